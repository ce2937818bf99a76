/**
 * The cheapest way to charge a trackside store over a day, as a linear programme. For each step: grid and renewables
 * give what direct loads and the store's charging take, at the store's terminals; its level follows, less what the
 * trains draw. Within a step nobody knows whether charge or draw comes first, so each must fit without the other.
 */
import type { Store } from './day-files.js';
import { Problem } from './linear-problem.js';
import type { Solve } from './solver.js';

/** What is given of one step; energies in kWh. */
export interface DayStep {
  readonly pricePerKwh: number;
  readonly renewableKwh: number;
  /** From the store to trains, at its terminals. */
  readonly drawnKwh: number;
  /** From the grid to trains, past the store, and the most above its mean within the step. */
  readonly directKwh: number;
  readonly directAboveMeanKw: number;
}

export interface StoreAsk {
  readonly store: Store;
  readonly steps: readonly DayStep[];
  readonly stepS: number;
  readonly peakPricePerKw: number;
  readonly maxGridKw: number;
}

export interface StorePlan {
  /** At the store's terminals, by step. */
  readonly chargeKwh: readonly number[];
  /** Level at the end of each step, kWh. */
  readonly levelKwh: readonly number[];
  readonly gridKwh: readonly number[];
  readonly peakKw: number;
  /** Of grid energy and its peak. */
  readonly cost: number;
  /** Proven: no plan of these steps costs less. */
  readonly boundCost: number;
  /** What is wanting even with the best charging; 0 where the day works. */
  readonly unmetKwh: number;
}

const TINY_KWH = 1e-6;

/** Where there is no plan, the one that leaves least unmet. */
export function planStore(ask: StoreAsk, solve: Solve): StorePlan {
  return attempt(ask, solve, 0) ?? attempt(ask, solve, penaltyOf(ask)) ?? fail();
}

function fail(): never {
  // With everything unmet there is always a plan, unless the direct loads are more than the grid can give.
  throw new Error('no plan of the store exists, not even one that leaves the trains without');
}

/** Dearer than anything that could be saved by leaving it unmet. */
const penaltyOf = ({ steps, peakPricePerKw, stepS }: StoreAsk): number =>
  1000 * (1 + Math.max(...steps.map((s) => s.pricePerKwh)) + peakPricePerKw * (3600 / stepS));

/** @param penalty a kWh that is left unmet; 0 permits none */
function attempt(ask: StoreAsk, solve: Solve, penalty: number): StorePlan | null {
  const { store, steps } = ask;
  const problem = new Problem();
  const { grid, charge, level, unmet, peak } = lay(problem, ask, penalty, null);
  const { values, multipliers } = solve(problem);
  if (values === null) return null;
  const unmetKwh = unmet.reduce((sum, column) => sum + values[column]!, 0);
  const of = (columns: readonly number[]): number[] => columns.map((column) => values[column]!);
  const gridKwh = of(grid);
  return {
    ...{ gridKwh, chargeKwh: of(charge), levelKwh: of(level), peakKw: values[peak]! },
    cost:
      gridKwh.reduce((sum, kwh, t) => sum + kwh * steps[t]!.pricePerKwh, 0) +
      ask.peakPricePerKw * values[peak]!,
    boundCost: problem.boundBy(multipliers),
    unmetKwh: unmetKwh < TINY_KWH * store.capacityKwh ? 0 : unmetKwh,
  };
}

/** The smallest capacity with which the day still works, its powers as they are; null where none does. */
export function leastCapacityKwh(ask: StoreAsk, solve: Solve): number | null {
  const problem = new Problem();
  const capacity = problem.column('capacity', 1);
  lay(problem, ask, 0, capacity);
  return solve(problem).values?.[capacity] ?? null;
}

/** @param capacity the column of the capacity where it is to be made least: then nothing else costs anything */
function lay(problem: Problem, ask: StoreAsk, penalty: number, capacity: number | null) {
  const { store, steps, stepS, peakPricePerKw, maxGridKw } = ask;
  const hours = stepS / 3600;
  const { chargeEfficiencyShare: into, dischargeEfficiencyShare: outOf, capacityKwh } = store;
  const isFree = capacity !== null;
  const [grid, charge, level, unmet]: [number[], number[], number[], number[]] = [[], [], [], []];
  const peak = problem.column('peak', isFree ? 0 : peakPricePerKw, 0, maxGridKw);
  /** Terms against a share of the capacity and so much more. */
  const hold = (row: string, terms: Terms, sense: '>=' | '<=' | '=', share: number, kwh = 0): void =>
    isFree
      ? problem.row(row, [...terms, [capacity, -share]], sense, kwh)
      : problem.row(row, terms, sense, share * capacityKwh + kwh);
  const slack = (row: string, mostKwh: number): Terms => {
    if (penalty === 0) return [];
    const u = problem.column(row, penalty, 0, mostKwh);
    unmet.push(u);
    return [[u, 1]];
  };
  const atLevel = (row: string): number => {
    const e = problem.column(row, 0);
    hold(`low_${row}`, [[e, 1]], '>=', store.floorShare);
    hold(`high_${row}`, [[e, 1]], '<=', store.ceilingShare);
    return e;
  };
  let before = atLevel('begin');
  hold('begins', [[before, 1]], '=', store.startShare);
  steps.forEach((step, t) => {
    const mostGridKwh = Math.max(0, (maxGridKw - step.directAboveMeanKw) * hours);
    const g = problem.column(`g${t}`, isFree ? 0 : step.pricePerKwh, 0, mostGridKwh);
    const r = problem.column(`r${t}`, 0, 0, step.renewableKwh);
    const c = problem.column(`c${t}`, 0, 0, store.maxChargeKw * hours);
    const give: Terms = [
      [g, 1],
      [r, 1],
      [c, -1],
    ];
    problem.row(`give${t}`, give, '=', step.directKwh);
    const over: Terms = [
      [peak, hours],
      [g, -1],
    ];
    problem.row(`peak${t}`, over, '>=', 0);
    const takenKwh = step.drawnKwh / outOf + store.standingLossKw * hours;
    const short = slack(`u${t}`, takenKwh);
    const e = atLevel(`e${t}`);
    const moves: Terms = [[e, 1], [before, -1], [c, -into], ...short.map(([u]) => [u, -1] as const)];
    problem.row(`level${t}`, moves, '=', -takenKwh);
    if (step.drawnKwh > 0) {
      hold(`first${t}`, [[before, 1], ...short], '>=', store.floorShare, takenKwh);
      const full: Terms = [
        [before, 1],
        [c, into],
      ];
      hold(`full${t}`, full, '<=', store.ceilingShare);
    }
    grid.push(g);
    charge.push(c);
    level.push(e);
    before = e;
  });
  hold('again', [[before, 1], ...slack('u_end', capacityKwh)], '>=', store.startShare);
  return { grid, charge, level, unmet, peak };
}

type Terms = readonly (readonly [column: number, factor: number])[];
