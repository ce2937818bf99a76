/** Bodies of refusals, trips and ends: as the program writes them, and every field of them spelt otherwise. */
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { addAudit } from '../../../src/cli/audit.js';
import { oddBody } from '../../../src/journal/bodies.js';
import { hashOnly } from '../../../src/journal/writer.js';
import { runHere } from '../../cli/in-process.js';
import { endAll, temporaryFolder } from '../../cli/process.js';
import { linesOf, resealed } from './build.js';

afterAll(endAll);

const FOLDER = path.resolve(import.meta.dirname, '../../data/journals-v1');
const textOf = (name: string): string => readFileSync(path.join(FOLDER, `${name}.ndjson`), 'utf8');
const bodiesOf = (name: string, kind: string): Record<string, unknown>[] =>
  linesOf(textOf(name))
    .map((line) => JSON.parse(line) as { k: string; b: Record<string, unknown> })
    .filter(({ k }) => k === kind)
    .map(({ b }) => b);

const WRITTEN = [
  ...bodiesOf('tripped-loop-reversed', 'trip').map((body) => ['trip', body] as const),
  ...bodiesOf('refused-while-latched', 'refusal').map((body) => ['refusal', body] as const),
  ...['tripped-loop-reversed', 'refused-while-latched', 'released-short-top-up'].flatMap((name) =>
    bodiesOf(name, 'end').map((body) => ['end', body] as const),
  ),
];

/** Of another type than anything that is written there. */
const ODD = [[[]], { odd: {} }];

/** The same body, once for each field at any depth: with that field odd, and without it. */
function* spoilt(body: unknown): Generator<unknown> {
  if (typeof body !== 'object' || body === null) return;
  const keys = Object.keys(body);
  for (const key of keys) {
    const with_ = (value: unknown): unknown => {
      const copy = structuredClone(body) as Record<string, unknown>;
      copy[key] = value;
      return copy;
    };
    for (const odd of ODD) yield with_(odd);
    yield with_(undefined);
    for (const inner of spoilt((body as Record<string, unknown>)[key])) yield with_(inner);
  }
}

describe('a body that people are told from', () => {
  it('is taken as it was ever written', () => {
    expect(WRITTEN.map(([kind]) => kind)).toEqual(expect.arrayContaining(['trip', 'refusal', 'end']));
    for (const [kind, body] of WRITTEN) expect(oddBody(kind, body)).toBeNull();
  });
  it('is not, with any one of its fields odd or gone', () => {
    let tried = 0;
    for (const [kind, body] of WRITTEN)
      for (const each of spoilt(body)) {
        tried++;
        expect(oddBody(kind, each), JSON.stringify(each)).toMatch(
          /^its body, of kind \w+, is expected to be /,
        );
      }
    expect(tried).toBeGreaterThan(300);
    for (const body of [null, 1, 'x', [], [null]]) expect(oddBody('end', body)).not.toBeNull();
  });
  it('says nothing of kinds it does not know the shape of', () => {
    expect(oddBody('tick', null)).toBeNull();
    expect(oddBody('toString', null)).toBeNull();
  });
});

describe('an audit of a journal with an odd body', () => {
  it.each([
    [
      'refused-while-latched',
      'refusal',
      { atS: 'soon' },
      /record \d+: its body, of kind refusal, .* with atS: a number/,
    ],
    ['refused-while-latched', 'refusal', { part: { a: 1 } }, /with part: a text or null/],
    [
      'tripped-loop-reversed',
      'trip',
      { reading: 'x' },
      /record \d+: its body, of kind trip, .* with reading: a number or/,
    ],
    [
      'tripped-loop-reversed',
      'end',
      { endState: null },
      /record \d+: its body, of kind end, .* with endState: an object/,
    ],
    ['tripped-loop-reversed', 'end', { phases: [1] }, /with phases: a list of what is an object/],
  ])('%s, its %s with %o: one message, exit 5, and no crash', async (name, kind, change, message) => {
    const spoiltLines = linesOf(textOf(name)).map((line) => {
      const record = JSON.parse(line) as { n: number; t: number; k: string; b: object };
      if (record.k !== kind) return line;
      return `${JSON.stringify({ ...record, b: { ...record.b, ...change } })}\n`;
    });
    const file = path.join(temporaryFolder(), 'journal.ndjson');
    writeFileSync(file, resealed(spoiltLines, hashOnly));
    const report = path.join(temporaryFolder(), 'report.html');
    const { code, stdout, stderr } = await runHere(addAudit, 'audit', file, '--report', report);
    expect({ code, stderr }).toEqual({ code: 5, stderr: '' });
    // Folded to the width of a page.
    expect(stdout.replace(/\s+/g, ' ')).toMatch(message);
    expect(stdout.match(/its body, of kind/g)).toHaveLength(1);
    expect(readFileSync(report, 'utf8')).toContain('RECORD NOT INTACT');
  });
});
