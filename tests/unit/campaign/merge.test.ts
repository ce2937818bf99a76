/** Merging: the bytes of the undivided run, and one message for whatever does not belong together. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { mergeResults } from '../../../src/campaign/merge.js';
import { textOfResults } from '../../../src/campaign/results.js';
import { type Shard, WHOLE } from '../../../src/campaign/shard.js';
import { InputError } from '../../../src/host/input-error.js';
import { STORM_KIND } from '../../../src/storm/results.js';
import { stormReport } from '../../../src/storm/storm.js';
import { read, written } from './fake.js';

function mergedText(texts: readonly string[], pieceBytes?: number): string {
  const { header, cases } = mergeResults(texts.map((text, i) => read(`${i}.ndjson`, text, pieceBytes)));
  return [...textOfResults({ header, cases: STORM_KIND.settle(cases) })].join('');
}
const shardsOf = (of: number): Shard[] => Array.from({ length: of }, (_, i) => ({ index: i + 1, of }));

describe('what is merged', () => {
  it.each([1, 2, 3, 4, 5, 6, 7])('from %i shards is what the undivided run writes', async (of) => {
    const broken = fc.uniqueArray(fc.nat(60), { maxLength: 12 });
    await fc.assert(
      fc.asyncProperty(fc.nat(40), broken, fc.nat(9), fc.nat(), async (cases, bad, from, turn) => {
        const isBroken = (index: number): boolean => bad.includes(index);
        const whole = await written(from, cases, WHOLE, isBroken);
        const parts = await Promise.all(shardsOf(of).map((s) => written(from, cases, s, isBroken)));
        const shuffled = parts.map((_, i) => parts[(i + turn) % of] as string).reverse();
        expect(mergedText(shuffled, 7 + (turn % 500))).toBe(whole);
        // Two digests that agree could both be of nothing.
        const { cases: results } = mergeResults(parts.map((text) => read('part', text)));
        const report = stormReport(results, 11, from);
        expect(report).toEqual(stormReport(read('whole', whole).cases, 11, from));
        expect(report).toMatchObject({ sessions: cases, from });
        expect(report.failures.map((f) => f.index)).toEqual(
          Array.from({ length: cases }, (_, i) => from + i).filter(isBroken),
        );
      }),
      { numRuns: 25 },
    );
  });

  it('keeps the first three failures made small, and of no other', async () => {
    const isBroken = (index: number): boolean => index >= 5;
    const parts = await Promise.all(shardsOf(3).map((s) => written(0, 20, s, isBroken)));
    const { cases } = read('merged', mergedText(parts));
    expect(cases.filter((c) => c.small !== undefined).map((c) => c.index)).toEqual([5, 6, 7]);
    expect(cases[5]?.small?.broken[0]?.text).toMatch(/^small: at 5/);
  });

  it('joins stretches that follow one another, whole, in shards, or merged before', async () => {
    const isBroken = (index: number): boolean => index % 4 === 1;
    const whole = await written(10, 31, WHOLE, isBroken);
    const first = await written(10, 8, WHOLE, isBroken);
    const second = await Promise.all(shardsOf(3).map((s) => written(18, 13, s, isBroken)));
    const third = await Promise.all(shardsOf(2).map((s) => written(31, 10, s, isBroken)));
    expect(mergedText([...third, first, ...second])).toBe(whole);
    expect(mergedText([mergedText(third), mergedText([...second, first])])).toBe(whole);
  });

  it('keeps further keys of a kind, and holds them against each other', async () => {
    const further = (rig: string) => ({ rig }) as object;
    const parts = await Promise.all(
      shardsOf(2).map((s) => written(0, 5, s, undefined, further('depot-cable'))),
    );
    expect(mergedText(parts)).toBe(await written(0, 5, WHOLE, undefined, further('depot-cable')));
    const other = await written(0, 5, { index: 2, of: 2 }, undefined, further('depot-split'));
    expect(() => mergedText([parts[0] as string, other])).toThrow(
      /of rig depot-cable, .* of rig depot-split/,
    );
  });
});

describe('what does not belong together', () => {
  const refused = (texts: readonly string[], message: RegExp): void => {
    expect(() => mergedText(texts)).toThrow(InputError);
    expect(() => mergedText(texts)).toThrow(message);
  };
  const part = (index: number, of: number, from = 0, cases = 20): Promise<string> =>
    written(from, cases, { index, of });

  it.each([
    ['seed', { seed: 12 }, /0\.ndjson is of seed 11, 1\.ndjson of seed 12/],
    ['version', { software: 'loopwarden 9.0.0' }, /of software loopwarden 0\.0\.0, .* loopwarden 9\.0\.0/],
    ['build', { build: 'b2' }, /of build b1, .* of build b2/],
  ])('another %s', async (_, header, message) => {
    refused([await part(1, 2), await written(0, 20, { index: 2, of: 2 }, undefined, header)], message);
  });
  it('a shard twice', async () => {
    refused(
      [await part(1, 2), await part(2, 2), await part(1, 2)],
      /shard 1 of 2 is there twice: 0\.ndjson and 2\.ndjson/,
    );
  });
  it('a shard missing, or several', async () => {
    refused([await part(1, 3), await part(3, 3)], /^shard 2 of 3 of cases 0 to 19 is missing/);
    refused([await part(2, 4)], /^shards 1, 3 and 4 of 4 of cases 0 to 19 are missing/);
    refused([await part(2, 5000)], /^shards 1, 3, .* 13 and 4987 more of 5000 .* are missing/);
  });
  it('shards of another n, and the undivided run beside a shard of it', async () => {
    refused(
      [await part(1, 2), await part(2, 3)],
      /is one of 2 shards, .* one of 3 shards, of the same cases/,
    );
    refused([await part(1, 1), await part(2, 3)], /0\.ndjson is the undivided run, 1\.ndjson one of 3/);
  });
  it('stretches that overlap, or leave a gap', async () => {
    refused(
      [await part(1, 1, 0, 20), await part(1, 1, 19, 5)],
      /is of cases 0 to 19, .* of cases 19 to 23, which overlap/,
    );
    refused(
      [await part(1, 1, 30, 5), await part(1, 1, 0, 20)],
      /cases 20 to 29 are missing between 1\.ndjson and 0\.ndjson/,
    );
  });
});

describe('a file that cannot be used', () => {
  const refused = (text: string, message: RegExp): void => {
    expect(() => read('a.ndjson', text)).toThrow(InputError);
    expect(() => read('a.ndjson', text)).toThrow(message);
  };
  const first = async (change: object): Promise<string> => {
    const [line = '', ...rest] = (await written(0, 3, WHOLE)).split('\n');
    return [JSON.stringify({ ...JSON.parse(line), ...change }), ...rest].join('\n');
  };

  it('cut short after any byte but the last', async () => {
    const text = await written(0, 2, WHOLE);
    for (let bytes = 0; bytes < text.length; bytes++)
      refused(text.slice(0, bytes), /^a\.ndjson is (empty, or )?cut short/);
    expect(read('a.ndjson', text).cases).toHaveLength(2);
  });
  it('damaged in a place that JSON does not show', async () => {
    const text = await written(0, 4, WHOLE);
    refused(text.replace('"exit":3', '"exit":4'), /a\.ndjson:6 does not fit .* changed or damaged/);
    refused(`${text}{}\n`, /a\.ndjson:7 goes on after its last line/);
  });
  it('with a line left out, or the last line of another', async () => {
    const lines = (await written(0, 4, WHOLE)).split('\n');
    refused(lines.toSpliced(2, 1).join('\n'), /a\.ndjson:3 holds case 2 where 1 is due/);
    refused(lines.toSpliced(4, 1).join('\n'), /a\.ndjson:5 ends after 3 cases; this shard has 4/);
  });
  it('with cases of another shard', async () => {
    const lines = (await written(0, 4, { index: 2, of: 2 })).split('\n');
    const head = (await written(0, 4, { index: 1, of: 2 })).split('\n')[0] as string;
    refused([head, ...lines.slice(1)].join('\n'), /a\.ndjson:2 holds case 1 where 0 is due/);
  });
  it('of another format, version or kind, or something else altogether', async () => {
    refused(await first({ format: 'loopwarden-journal' }), /:1 is no result file/);
    refused(await first({ version: 2 }), /:1 is of version 2 of the format; this program reads version 1/);
    refused(await first({ kind: 'dance' }), /:1 is of a campaign "dance"; this program knows storm/);
    refused(await first({ kind: 'toString' }), /this program knows storm/);
    refused(await first({ shard: { index: 4, of: 3 } }), /:1 cannot be used: shard: there is no such shard/);
    refused('live DC kills\n', /:1 is no result file: expected the JSON --out wrote/);
    refused('null\n', /:1 is no result file/);
    refused('x'.repeat(3 << 20), /:1 is longer than any line/);
  });
});
