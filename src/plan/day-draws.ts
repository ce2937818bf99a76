/**
 * What a planned day bears: drawn days on which one thing goes otherwise, with the store charged as planned. The same
 * seed draws the same days. Stops are taken from the quick source: a spread is no finer than that.
 */
import { SeededRandom } from '../../simulators/seeded-random.js';
import { coarse, type DayInput } from './day-input.js';
import type { Events } from './day-run.js';
import type { Schedule } from './day-supply.js';
import { type DayResult, dayWith } from './plan-day.js';
import type { StopSource } from './stop-source.js';

export const KINDS = ['late', 'cold', 'raft-out', 'skipped', 'together'] as const;
export type Kind = (typeof KINDS)[number];
export const KIND_TEXT: Readonly<Record<Kind, string>> = {
  late: 'one train comes 10 min late to one call',
  cold: 'a day 3 to 10 K colder, with heating',
  'raft-out': 'one train runs without one of its rafts',
  skipped: 'one stop is not used for charging',
  together: 'each of these with one chance in two',
};

const LATE_S = 600;
/** Whole steps, so that stops on days alike are asked once. */
const COLDER_K = [3, 5, 8, 10] as const;
/** Share by which auxiliaries grow for each kelvin: heating, invented. */
const HEATING_PER_K = 0.03;

export interface Spread {
  readonly p5: number;
  readonly p50: number;
  readonly p95: number;
}

export interface Drawn {
  readonly kind: Kind;
  readonly days: number;
  /** On so many of them a train sinks below its floor, stays on the line, or leaves with less than it should. */
  readonly failed: number;
  /** Of so many somebody departs late. */
  readonly lateDays: number;
  readonly lowestTrainSoc: Spread;
  readonly lowestStoreKwh: Spread;
  readonly worstLateS: Spread;
  readonly cost: Spread;
  readonly peakKw: Spread;
  readonly hottestC: Spread;
}

export function drawDays(
  input: DayInput,
  source: StopSource,
  schedule: Schedule,
  { seed, days }: { readonly seed: number; readonly days: number },
): Drawn[] {
  const merged = coarse(input);
  const random = new SeededRandom(seed);
  return KINDS.map((kind) => {
    const own = random.fork(kind);
    const results = Array.from({ length: days }, () =>
      dayWith(merged, source, schedule, drawn(kind, input, own)),
    );
    return told(kind, results);
  });
}

/** What goes otherwise on one day. */
export function drawn(kind: Kind, input: DayInput, random: SeededRandom): Events {
  const { trains } = input.day;
  const pick = (count: number): number => Math.min(count - 1, Math.floor(random.between(0, count)));
  const happens = (one: Kind): boolean => kind === one || (kind === 'together' && random.unit() < 0.5);
  const events: { -readonly [K in keyof Events]: Events[K] } = {};
  if (happens('late')) {
    const train = pick(trains.length);
    const call = Math.min(trains[train]!.calls.length - 1, 1 + pick(trains[train]!.calls.length));
    events.late = { train, call, seconds: LATE_S };
  }
  if (happens('cold')) {
    events.colderK = COLDER_K[pick(COLDER_K.length)]!;
    events.auxiliariesTimes = 1 + HEATING_PER_K * events.colderK;
  }
  if (happens('raft-out')) events.raftOut = pick(trains.length);
  if (happens('skipped')) {
    const all = trains.flatMap((train, t) =>
      train.calls.flatMap(({ at, toSoc }, c) =>
        toSoc !== 0 && input.pairAt(train, at) !== null ? [{ train: t, call: c }] : [],
      ),
    );
    if (all.length > 0) events.skipped = all[pick(all.length)]!;
  }
  return events;
}

function told(kind: Kind, results: readonly DayResult[]): Drawn {
  const of = (pick: (result: DayResult) => number): Spread => spreadOf(results.map(pick));
  const worstLateS = (r: DayResult): number => Math.max(...r.run.trains.map((t) => t.worstLateS));
  return {
    ...{ kind, days: results.length },
    failed: results.filter((r) => r.trainFaults > 0).length,
    lateDays: results.filter((r) => worstLateS(r) > 0).length,
    lowestTrainSoc: of((r) => Math.min(...r.run.trains.map((t) => t.lowestSoc))),
    lowestStoreKwh: of((r) => r.run.supply.lowestKwh),
    worstLateS: of(worstLateS),
    cost: of((r) => r.cost.total),
    peakKw: of((r) => r.run.supply.peakStepKw),
    hottestC: of((r) => Math.max(...r.run.trains.map((t) => t.hottestC))),
  };
}

/** Between the two nearest of the sorted values. */
export function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const at = share * (sorted.length - 1);
  const low = sorted[Math.floor(at)]!;
  return low + (sorted[Math.ceil(at)]! - low) * (at - Math.floor(at));
}

const spreadOf = (values: readonly number[]): Spread => ({
  p5: percentile(values, 0.05),
  p50: percentile(values, 0.5),
  p95: percentile(values, 0.95),
});
