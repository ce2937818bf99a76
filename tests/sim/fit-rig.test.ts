/**
 * Figures of a rig from sessions of a simulated charger that was built otherwise than its rig says: each interval holds
 * what was built and not what the rig says; of one built as it says, every interval holds it. And which sessions are
 * no witness, by the command line.
 */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Injection } from '../../simulators/faults.js';
import { addFit } from '../../src/cli/fit.js';
import { filesInMemory } from '../../src/host/durable-file.js';
import type { Fitted, RigFit } from '../../src/learn/fit-rig.js';
import { withResistance } from '../../src/plan/margins.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { figureAt } from '../../src/rig/figure-at.js';
import { type LoadedRig, loadRig } from '../../src/rig/load.js';
import type { Rig } from '../../src/rig/schema.js';
import { runHere } from '../cli/in-process.js';
import { endAll, temporaryFolder } from '../cli/process.js';
import { rigOf } from './fixture.js';

afterAll(endAll);

const folder = temporaryFolder();
const at = (...parts: string[]): string => path.join(folder, ...parts);

interface Asked {
  readonly loaded: LoadedRig;
  readonly built?: Rig;
  readonly seed: number;
  readonly maxS: number;
  readonly inject?: readonly Injection[];
  readonly soc?: number;
  readonly cellC?: number;
}

async function put(
  name: string,
  { loaded, built = loaded.rig, seed, maxS, inject = [], ...start }: Asked,
): Promise<string> {
  let text = '';
  await runVirtual({
    loaded,
    proving: { relays: {}, built },
    scenario: { seed, start, inject: [...inject], orders: [], wish: { maxS } },
    ...{ stateDir: 'memory', latchFiles: filesInMemory(), journalPath: 'journal' },
    sink: {
      append: (more) => {
        text += more;
      },
      close: async () => {},
    },
  });
  write(name, text);
  return text;
}
function write(name: string, text: string): void {
  mkdirSync(path.dirname(at(name)), { recursive: true });
  writeFileSync(at(name), text);
}

const depot = loadRig('depot-cable');
const shoes = loadRig('terminus-shoes');
const RESISTANCE = 1.08;
const depotBuilt = withResistance(
  rigOf('depot-cable', (rig) => {
    rig.connection.cable.thermalResistanceKPerW *= 1.3;
    // Told as its thermal resistance: from a temperature alone nobody knows which of the two it is.
    rig.connection.contact.resistanceOhm *= 1.2;
    rig.supply.droopPercent = 4;
  }),
  RESISTANCE,
);
const shoesBuilt = rigOf('terminus-shoes', (rig) => {
  rig.supply.internalOhm = 0.012;
  rig.connection.contact.thermalResistanceKPerW *= 1.2;
});
/** What was built, by key, where it is not the figure of the same name. */
const CONTACT = 'connection.contact.thermalResistanceKPerW';
const TRUTH: Readonly<Record<string, number>> = { [CONTACT]: 2.5 * 1.2 };

beforeAll(async () => {
  for (const seed of [1, 2]) {
    const start = { seed, soc: 0.25 + 0.15 * seed, cellC: 15 + 4 * seed };
    await put(`depot/sound-${seed}.ndjson`, { loaded: depot, maxS: 62, ...start });
    await put(`depot-built/${seed}.ndjson`, { loaded: depot, built: depotBuilt, maxS: 62, ...start });
    await put(`shoes-built/${seed}.ndjson`, { loaded: shoes, built: shoesBuilt, maxS: 42, ...start });
  }
  await put('shoes/1.ndjson', { loaded: shoes, seed: 1, maxS: 42, soc: 0.4, cellC: 19 });
  await put('short/a.ndjson', { loaded: depot, seed: 3, maxS: 14 });
}, 60_000);

const ask = async (where: string, ...more: string[]) =>
  runHere(addFit, 'fit', 'rig', '--journals', at(where), ...more);
type Told = RigFit & { readonly source: string; readonly snippet: string | null };
const known = new Map<string, Told>();
async function told(where: string, ...more: string[]): Promise<Told> {
  const before = known.get([where, ...more].join(' '));
  if (before !== undefined) return before;
  const { stdout, stderr, code } = await ask(where, '--json', ...more);
  expect({ stderr, code }).toEqual({ stderr: '', code: 0 });
  const read: Told = JSON.parse(stdout);
  known.set([where, ...more].join(' '), read);
  return read;
}
const held = (f: Fitted, value: number): boolean => f.low! <= value && value <= f.high!;
const verdicts = ({ fitted }: Told) =>
  Object.fromEntries(fitted.flatMap(({ key, verdict }) => (key === null ? [] : [[key, verdict]])));
const R = ['r0Ohm', 'r1Ohm', 'r2Ohm'].map((name) => `battery.raft.cell.${name}`);

describe('a charger built as its rig says', () => {
  it.each(['depot', 'shoes'])(
    '%s: every interval holds the value of the rig, and nothing is to change',
    async (where) => {
      const all = await told(where);
      for (const f of all.fitted)
        if (f.now !== null && f.fitted !== null)
          expect({ key: f.key, held: held(f, f.now) }).toEqual({ key: f.key, held: true });
      expect(Object.values(verdicts(all))).not.toContain('apart');
      expect(verdicts(all)).toMatchObject(Object.fromEntries([...R, CONTACT].map((key) => [key, 'agrees'])));
      expect(all.snippet).toBeNull();
    },
  );
});

describe('a charger built otherwise', () => {
  it.each([
    [
      'depot-built',
      depotBuilt,
      [...R, 'connection.cable.thermalResistanceKPerW', CONTACT, 'supply.droopPercent'],
    ],
    ['shoes-built', shoesBuilt, [CONTACT, 'supply.internalOhm']],
  ] as const)(
    '%s: its intervals hold what was built, and not what the rig says',
    async (where, built, changed) => {
      const all = await told(where);
      for (const f of all.fitted) {
        if (f.key === null || f.fitted === null) continue;
        const truth =
          built === depotBuilt ? (TRUTH[f.key] ?? figureAt(built, f.key)) : figureAt(built, f.key);
        const isChanged = (changed as readonly string[]).includes(f.key);
        expect({ key: f.key, truth: held(f, truth), old: held(f, f.now!) }).toEqual({
          key: f.key,
          truth: true,
          old: !isChanged,
        });
      }
      const apart = Object.entries(verdicts(all)).filter(([, v]) => v === 'apart');
      expect(apart.map(([key]) => key).sort()).toEqual([...changed].sort());
    },
  );

  it('is mended by pasting what is printed, and says who vouches for it', async () => {
    const { snippet, source, fitted } = await told('depot-built');
    expect(source).toBe('fitted from 2 journals, 2030-01-01..2030-01-01, rehearsals');
    expect(snippet?.split(source).length).toBe(1 + R.length + 3);
    const file = at('pasted.yaml');
    const base = path.resolve('config/depot-cable.yaml');
    writeFileSync(
      file,
      `extends: ${path.relative(folder, base)}\nname: pasted\ntitle: As fitted\n${snippet}\n`,
    );
    const { rig } = loadRig(file);
    for (const f of fitted)
      if (f.key !== null)
        expect(figureAt(rig, f.key)).toBeCloseTo(f.verdict === 'apart' ? f.fitted! : f.now!, 3);
  });
});

describe('what is no witness', () => {
  it('is too short a session: that is told, and exit 8', async () => {
    const { stdout, code } = await ask('short', '--json');
    const all = JSON.parse(stdout) as Told;
    expect(code).toBe(8);
    for (const f of all.fitted)
      expect(f).toMatchObject({ verdict: 'cannot-tell', fitted: null, sessions: 0 });
    expect(all.fitted.map(({ because }) => because)).toContain('too short');
    const words = (await ask('short')).stdout;
    expect(words).toContain('cannot tell');
    expect(words).toContain('too short');
  });

  it('is what is not intact, a copy, another rig or no session: each left out by name', async () => {
    const text = readFileSync(at('depot/sound-1.ndjson'), 'utf8');
    const mixed = (name: string, content: string): void => write(`mixed/${name}`, content);
    mixed('a-sound.ndjson', text);
    mixed('b-copy.ndjson', text);
    mixed('c-changed.ndjson', text.replace('"isolation-dead"', '"isolation-dxad"'));
    mixed('d-foreign.ndjson', '{"hello":"there"}\n');
    mixed('e-shoes.ndjson', readFileSync(at('shoes/1.ndjson'), 'utf8'));
    mixed('f-sound.ndjson', readFileSync(at('depot/sound-2.ndjson'), 'utf8'));
    const inject = [{ fault: 'supply-breaker-opens', phase: 'ramping', afterS: 1 }] as const;
    await put('mixed/g-tripped.ndjson', { loaded: depot, seed: 4, maxS: 60, inject });
    const all = await told('mixed');
    const named = all.leftOut.map(({ file, why }) => [path.basename(file), why]);
    expect(named).toEqual([
      ['b-copy.ndjson', expect.stringMatching(/^a copy of .*a-sound\.ndjson$/)],
      ['c-changed.ndjson', expect.stringMatching(/^bad-block: /)],
      ['d-foreign.ndjson', expect.stringMatching(/^not-a-journal/)],
      ['e-shoes.ndjson', expect.stringMatching(/^another rig: terminus-shoes/)],
      ['g-tripped.ndjson', expect.stringMatching(/^it tripped \([a-z-]+\): that tells of a fault/)],
    ]);
    // And not a digit is otherwise than without them.
    expect(all.fitted).toEqual((await told('depot')).fitted);
    const other = await told('mixed', '--rig', 'terminus-shoes');
    expect(other).toMatchObject({ rig: 'terminus-shoes', sessions: 1 });
  });

  it.each<[string, string[], RegExp]>([
    ['nowhere', [], /nowhere cannot be used: there is no such folder$/],
    ['empty', [], /there is no journal/],
    ['foreign', [], /none of 1 journals can be used: .*not-a-journal/],
    [
      'short',
      ['--rig', 'terminus-shoes'],
      /no journal is of terminus-shoes as it is now; they are of depot-cable$/,
    ],
    ['short', ['--rig', 'no-such-rig'], /no rig named no-such-rig/],
  ])('%s %j: one message and exit 2', async (where, more, words) => {
    mkdirSync(at('empty'), { recursive: true });
    write('foreign/a.ndjson', 'nothing\n');
    const { stdout, stderr, code } = await ask(where, ...more);
    expect({ stdout, code }).toEqual({ stdout: '', code: 2 });
    expect(stderr).toMatch(words);
    expect(stderr.trim().split('\n')).toHaveLength(1);
  });
});
