/**
 * A signed journal tampered with in many ways: every one shows. What an unsigned one does not show is told in the
 * table, and is what src/journal/FORMAT.md says. `npm run acceptance:tampering` does ten thousand.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { Audit, type AuditResult } from '../../src/audit/audit.js';
import { SOFTWARE } from '../../src/host/version.js';
import { newKeyPair, signingWith, type Verifier, verifierWith } from '../../src/journal/keys.js';
import { hashOnly } from '../../src/journal/writer.js';
import { loadRig } from '../../src/rig/load.js';
import { examine, linesOf, resealed } from '../unit/journal/build.js';
import { recorded } from '../unit/journal/recorded.js';
import { type Evidence, TAMPERINGS } from './journal-tampering.js';

const COUNT = Number(process.env.TAMPERINGS ?? 200);
const SEED = 20;
const mine = newKeyPair();
let verifier: Verifier;
let evidence: Evidence;
let unsigned: Evidence;

async function journal(seed: number, pem: string | null): Promise<string> {
  const { text } = await recorded({
    loaded: loadRig('depot-cable'),
    scenario: {
      seed,
      wish: { targetEnergyKwh: 0.02 },
      inject: [{ fault: 'loop-open', phase: 'ramping', afterS: 1 }],
    },
    ...(pem === null ? {} : { signing: signingWith(pem, 'key') }),
  });
  return text;
}

beforeAll(async () => {
  verifier = verifierWith(mine.publicPem, 'key');
  const strangersPem = newKeyPair().privatePem;
  evidence = {
    text: await journal(1, mine.privatePem),
    other: await journal(2, mine.privatePem),
    strangersPem,
  };
  unsigned = { text: await journal(1, null), other: await journal(2, null), strangersPem };
}, 60_000);

interface Row {
  readonly kind: string;
  tried: number;
  signed: number;
  unsigned: number;
}

const shows = (text: string, original: string, by: Verifier | null, head: string | null): boolean => {
  const { row, chain } = examine(text, { verifier: by, head, pieceBytes: 1 << 16 });
  return row !== 'clean' || (head !== null && !chain.headMet) || text === original;
};

describe('tampering with a journal', () => {
  it(`shows in a signed one, ${COUNT} times`, () => {
    const random = new SeededRandom(SEED);
    const heads = [evidence, unsigned].map(({ text }) => examine(text).chain.head);
    const rows: Row[] = TAMPERINGS.map(({ kind }) => ({ kind, tried: 0, signed: 0, unsigned: 0 }));
    const unseen: string[] = [];
    for (let k = 0; k < COUNT; k++) {
      const at = k % TAMPERINGS.length;
      const tampering = TAMPERINGS[at]!;
      const row = rows[at]!;
      const draw = random.fork(`${k}`);
      const text = tampering.make(evidence, draw);
      row.tried++;
      const head = tampering.needsHead ? heads[0]! : null;
      const seen = tampering.unprotected
        ? examine(text, { verifier }).chain.unsealedBytes > 0
        : shows(text, evidence.text, verifier, head);
      if (seen) row.signed++;
      else unseen.push(`${tampering.kind}, case ${k}`);
      // The same on a journal without signatures, with nothing kept elsewhere.
      const bare = tampering.make(unsigned, random.fork(`${k}`));
      if (tampering.unprotected || shows(bare, unsigned.text, null, null)) row.unsigned++;
    }
    if (COUNT >= 10_000) console.table(rows);
    expect(unseen).toEqual([]);
    const blind = rows.filter((row) => row.unsigned === 0).map(({ kind }) => kind);
    expect(blind).toEqual([
      'a figure changed, the chain made anew',
      'a figure changed, signed by another key',
    ]);
    for (const row of rows.filter(({ kind }) => !blind.includes(kind) && !kind.startsWith('the tail')))
      expect(row.unsigned, row.kind).toBe(row.tried);
  }, 600_000);
  it('leaves the journals it began with whole', () => {
    expect(examine(evidence.text, { verifier }).row).toBe('clean');
    expect(examine(unsigned.text).row).toBe('clean');
    expect(linesOf(evidence.text).length).toBeGreaterThan(500);
  });
});

/** What somebody without a key can do: change a line and make the chain anew. */
describe('a record changed under a chain made anew', () => {
  const audited = (lines: readonly string[]): AuditResult => {
    const audit = new Audit({ software: SOFTWARE });
    audit.feed(Buffer.from(resealed(lines, hashOnly)));
    return audit.end();
  };
  it('is sound before it is touched', () => {
    const { row, diverged, invariantsBroken, firstOut } = audited(linesOf(unsigned.text));
    expect({ row, diverged, invariantsBroken, first: firstOut?.code }).toEqual({
      row: 'clean',
      diverged: false,
      invariantsBroken: [],
      first: 'loop-open',
    });
  });
  it.each([
    [
      'the ceiling of an authority',
      '"ceilingA":',
      (line: string) => line.replace(/"ceilingA":\d+/, '"ceilingA":321'),
    ],
    ['an order taken back', '"name":"close-p"', (line: string) => line.replace('close-p', 'open-p')],
    ['the code of the trip', '"k":"trip"', (line: string) => line.replace('loop-open', 'bond-lost')],
    [
      'the reading of a finding',
      '"k":"finding"',
      (line: string) => line.replace(/"reading":[^,]+/, '"reading":0.5'),
    ],
    ['an event', '"k":"event"', (line: string) => line.replace(/"b":"[^"]+"/, '"b":"secured-again"')],
    ['how it ended', '"k":"end"', (line: string) => line.replace('"tripped"', '"released"')],
    ['who asked', '"k":"person"', (line: string) => line.replace('"start"', '"stop"')],
  ])('shows by what is decided anew: %s', (_, mark, change) => {
    const lines = linesOf(unsigned.text);
    const at = lines.findIndex((line) => line.includes(mark));
    const before = lines[at] as string;
    lines[at] = change(before);
    expect(lines[at]).not.toBe(before);
    const { row, diverged, divergence } = audited(lines);
    expect(row).toBe('clean');
    expect(diverged).toBe(true);
    const n = (JSON.parse(before) as { n: number }).n;
    // The first difference is this line, or what the changed input brought about.
    expect(Math.abs((divergence?.n ?? -1) - n)).toBeLessThanOrEqual(2);
    expect(divergence?.written).not.toBe(divergence?.decided);
  });
});
