/** Fast fake results of a storm, and the way a run or a shard takes with them: made small, written, read, merged. */
import { createHash } from 'node:crypto';
import type { ResultsFile, ResultsHeader } from '../../../src/campaign/results.js';
import { readResults, textOfResults } from '../../../src/campaign/results.js';
import { numbersOf, type Shard, WHOLE } from '../../../src/campaign/shard.js';
import { parseCase } from '../../../src/storm/case.js';
import { type NumberedResult, numbered, STORM_KIND, withSmallFailures } from '../../../src/storm/results.js';
import type { Shrunk } from '../../../src/storm/shrink.js';

export const KINDS = { storm: STORM_KIND };
export const HEADER: ResultsHeader = {
  ...{ kind: 'storm', software: 'loopwarden 0.0.0', build: 'b1', seed: 11 },
  ...{ from: 0, cases: 0, shard: WHOLE },
};

/** Awkward where JSON could be: figures with all their digits, quotes, line ends, signs outside ASCII. */
export function fakeResult(index: number, isBroken: (index: number) => boolean): NumberedResult {
  return numbered(index, {
    exit: index % 3 === 0 ? 0 : 3,
    ended: index % 3 === 0 ? 'target' : 'loop-open',
    codes: index % 3 === 0 ? [] : ['loop-open', `code-${index % 5}`],
    virtualS: (index + 1) / 7,
    broken: isBroken(index) ? [{ id: 'I2', text: `at ${index}:\n\t"Ω \u2028 1e-7"` }] : [],
    digest: createHash('sha256').update(String(index)).digest('hex'),
  });
}

/** Stands for making small: the same for the same session, wherever it is done. */
const makeSmall = async (result: NumberedResult, seed: number): Promise<Shrunk> => ({
  small: parseCase(JSON.stringify({ base: 'depot-cable', seed: seed + result.index })),
  result: { ...result, broken: result.broken.map((b) => ({ ...b, text: `small: ${b.text}` })) },
  tries: 1,
});

/** What `storm --from --sessions --shard --out` writes. */
export async function written(
  from: number,
  cases: number,
  shard: Shard,
  isBroken: (index: number) => boolean = () => false,
  header: Partial<ResultsHeader> = {},
): Promise<string> {
  const ran = numbersOf({ from, cases }, shard).map((index) => fakeResult(index, isBroken));
  const results = await withSmallFailures(ran, HEADER.seed, makeSmall);
  return [...textOfResults({ header: { ...HEADER, from, cases, shard, ...header }, cases: results })].join(
    '',
  );
}

/** In pieces of this size, which cut lines and signs anywhere. */
export function read(file: string, text: string, pieceBytes = 1 << 16): ResultsFile<NumberedResult> {
  const bytes = Buffer.from(text, 'utf8');
  const reused = Buffer.alloc(pieceBytes);
  function* pieces(): Generator<Buffer> {
    for (let at = 0; at < bytes.length; at += pieceBytes)
      yield reused.subarray(0, bytes.copy(reused, 0, at, at + pieceBytes));
  }
  return readResults(file, pieces(), KINDS);
}
