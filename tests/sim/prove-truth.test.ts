/**
 * What a proof measures, held against the bench: the true instant of every event lies in the interval that is told
 * for it, whatever the seed, the ports and the noise on the line; and so do the figures.
 */
import { describe, expect, it } from 'vitest';
import type { FaultName } from '../../simulators/faults.js';
import { truthColumns } from '../../simulators/truth.js';
import { filesInMemory } from '../../src/host/durable-file.js';
import { provingOf, SOUND } from '../../src/prove/charger.js';
import { figureOf, find, type Measured, timeBetween } from '../../src/prove/measure.js';
import { type Timeline, timelineOf } from '../../src/prove/timeline.js';
import type { EventName } from '../../src/prove/vocabulary.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';

interface Run {
  readonly line: Timeline;
  readonly rig: ReturnType<typeof loadRig>['rig'];
  /** First step of 1 ms from which on it is so, until the record ends. */
  readonly settledMs: (isSo: (at: (column: string) => number) => boolean) => number;
  readonly faultMs: number;
  readonly tripMs: number;
  readonly greatest: (column: string, fromMs: number, toMs: number) => number;
}

async function run(rigName: string, seed: number, fault: FaultName, noise: number): Promise<Run> {
  const loaded = loadRig(rigName);
  const columns = truthColumns(loaded.rig.battery.rafts.length);
  const rows: number[][] = [];
  let journal = '';
  const {
    bench,
    tripMs,
    fault: failed,
  } = await runVirtual({
    loaded,
    scenario: {
      seed,
      start: { soc: 0.6, cellC: 22 },
      wish: { targetEnergyKwh: 5, maxCurrentA: 30, maxS: 40 },
      inject: [
        { fault, phase: 'ramping', afterS: 2 + (seed % 97) / 970 },
        ...(noise > 0 ? ([{ fault: 'link-noisy', phase: 'ramping', magnitude: noise }] as const) : []),
      ],
      orders: [],
    },
    stateDir: 'prove',
    latchFiles: filesInMemory(),
    journalPath: 'journal',
    sink: {
      append: (text) => {
        journal += text;
      },
      close: async () => {},
    },
    truth: { everyMs: 1, sink: { row: (values) => void rows.push([...values]) } },
    // The noise is no fault that anybody times.
    proving: { ...provingOf(SOUND, loaded.rig), unmarked: ['link-noisy'] },
  });
  expect(failed).toBeNull();
  const line = timelineOf(journal, loaded.rig);
  const lastMs = line.samples.at(-1)?.own.atMs ?? 0;
  const told = rows.filter((row) => (row[0] as number) <= lastMs);
  const at = (row: readonly number[]) => (column: string) => row[columns.indexOf(column)] as number;
  return {
    ...{ line, rig: loaded.rig },
    settledMs: (isSo) => {
      let k = told.length;
      while (k > 0 && isSo(at(told[k - 1] as number[]))) k--;
      return at(told[k] as number[])('tMs');
    },
    faultMs: bench.faultLog.find((f) => f.fault === fault)?.atMs ?? Number.NaN,
    tripMs: tripMs ?? Number.NaN,
    greatest: (column, fromMs, toMs) =>
      told.reduce((most, row) => {
        const tMs = at(row)('tMs');
        return tMs >= fromMs && tMs <= toMs ? Math.max(most, at(row)(column)) : most;
      }, Number.NEGATIVE_INFINITY),
  };
}

const SAFE_V = 60;
const holds = (name: string, found: { loMs: number; hiMs: number } | null, trueMs: number): void => {
  expect(found, `${name} is seen`).not.toBeNull();
  expect(found?.loMs, `${name}, not before`).toBeLessThanOrEqual(trueMs);
  expect(found?.hiMs, `${name}, not after`).toBeGreaterThanOrEqual(trueMs);
};

/** True instants of what happened; the clocks of bench and supervisor begin together. */
function truths({ settledMs, faultMs, tripMs, rig }: Run): Partial<Record<EventName, number>> {
  const volts = (side: string) => (at: (column: string) => number) =>
    [at(`${side}PositiveV`), at(`${side}NegativeV`), at(`${side}PositiveV`) - at(`${side}NegativeV`)].every(
      (v) => Math.abs(v) <= SAFE_V,
    );
  return {
    mark: faultMs,
    trip: tripMs,
    'current-zero': settledMs((at) => Math.abs(at('poleP_A')) <= rig.contactors.routineBreakA),
    'output-safe': settledMs(volts('out')),
    'plug-safe': settledMs(volts('plug')),
    'parted-p': settledMs((at) => at('poleP') === 0),
    'parted-n': settledMs((at) => at('poleN') === 0),
  };
}

/** Seeds of each kind; the campaign takes more. */
const MANY = Number(process.env.PROVE_SEEDS ?? 1);

const seeds = (from: number, count: number): number[] =>
  Array.from({ length: count }, (_, k) => from + 7919 * k);

const TAGS: readonly EventName[] = ['mark', 'parted-p', 'parted-n'];

describe.each([
  ['depot-cable', 'one port'],
  ['depot-split', 'two ports'],
])('a true instant on %s, %s', (rigName) => {
  it.each(seeds(11, MANY))('lies in the interval told for it, seed %i', async (seed) => {
    const done = await run(rigName, seed, seed % 4 < 2 ? 'loop-open' : 'stop-pressed', 0);
    const { line, rig } = done;
    const is = truths(done) as Record<EventName, number>;
    for (const name of Object.keys(is) as EventName[]) holds(name, find(line, name, rig), is[name]);
    for (const to of ['current-zero', 'output-safe', 'parted-p', 'trip'] as const) {
      const { lo, hi } = timeBetween(line, 'mark', to, rig) as Measured;
      holds(`mark to ${to}`, { loMs: lo, hiMs: hi }, is[to] - is.mark);
    }
    const lastMs = line.samples.at(-1)?.own.atMs ?? 0;
    const peak = figureOf(line, 'peakCurrentA', rig);
    holds('peak current', { loMs: peak.lo, hiMs: peak.hi }, done.greatest('poleP_A', 0, lastMs));
  });

  // Two ports have all that one has: without a campaign they stand for both.
  const noisy = rigName === 'depot-split' || MANY > 1 ? seeds(5, MANY) : [];
  it.each(noisy)('lies in it although one line in ten is lost or damaged, seed %i', async (seed) => {
    const done = await run(rigName, seed, 'stop-pressed', 0.07);
    const { line, rig } = done;
    const is = truths(done) as Record<EventName, number>;
    expect(line.samples.some((s) => s.gap)).toBe(true);
    for (const name of Object.keys(is) as EventName[]) {
      const found = find(line, name, rig);
      // A tag is said once and may be lost on the way; what is seen is right. All else shows in more than one line.
      if (found === null && TAGS.includes(name)) continue;
      holds(name, found, is[name]);
    }
  });
});
