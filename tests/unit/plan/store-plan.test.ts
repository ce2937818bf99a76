/** The cheapest charging of a store against an exhaustive search that shares nothing with it but the words of the rule. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { Problem } from '../../../src/plan/linear-problem.js';
import { solver } from '../../../src/plan/solver.js';
import { leastCapacityKwh, planStore, type StoreAsk } from '../../../src/plan/store-plan.js';
import { storeOf } from './small-day.js';

const solve = await solver();
const CASES = 30;
const STEPS = 4;
const MOST = 24;

/**
 * Every way of taking 0, 1, … 24 kWh into the store in each of four hours. All that is given comes in twelves, so that
 * the cheapest lies on this lattice, also where a peak is shared by two, three or four steps.
 */
function searched({ store, steps, peakPricePerKw, maxGridKw }: StoreAsk): number {
  const { chargeEfficiencyShare: into, dischargeEfficiencyShare: outOf, capacityKwh } = store;
  const [floor, ceiling] = [store.floorShare * capacityKwh, store.ceilingShare * capacityKwh];
  const start = store.startShare * capacityKwh;
  let best = Number.POSITIVE_INFINITY;
  const go = (t: number, level: number, peak: number, cost: number): void => {
    if (cost + peakPricePerKw * peak >= best) return;
    const step = steps[t];
    if (step === undefined) {
      if (level >= start - 1e-9) best = cost + peakPricePerKw * peak;
      return;
    }
    const taken = step.drawnKwh / outOf;
    for (let charge = 0; charge <= Math.min(MOST, store.maxChargeKw); charge++) {
      const grid = Math.max(0, charge + step.directKwh - step.renewableKwh);
      if (grid > maxGridKw) continue;
      const next = level + into * charge - taken;
      const fits =
        taken === 0
          ? next >= floor - 1e-9 && next <= ceiling + 1e-9
          : level - taken >= floor - 1e-9 && level + into * charge <= ceiling + 1e-9;
      if (fits) go(t + 1, next, Math.max(peak, grid), cost + grid * step.pricePerKwh);
    }
  };
  go(0, start, 0, 0);
  return best;
}

function drawnCase(random: SeededRandom): StoreAsk {
  const oneOf = <T>(list: readonly T[]): T => list[Math.floor(random.between(0, list.length))]!;
  const outOf = oneOf([1, 0.5]);
  return {
    store: storeOf({
      ...{ capacityKwh: oneOf([48, 96]), floorShare: 0.25, ceilingShare: 1, startShare: 0.5 },
      ...{ chargeEfficiencyShare: oneOf([1, 0.5]), dischargeEfficiencyShare: outOf },
      ...{ maxChargeKw: 24, standingLossKw: 0 },
    }),
    steps: Array.from({ length: STEPS }, () => ({
      pricePerKwh: oneOf([0.1, 0.2, 0.3, 0.5]),
      renewableKwh: oneOf([0, 0, 12]),
      drawnKwh: oneOf([0, 0, 12, 24]) * outOf,
      directKwh: oneOf([0, 0, 12]),
      directAboveMeanKw: 0,
    })),
    ...{ stepS: 3600, peakPricePerKw: oneOf([0, 0.05, 0.4]), maxGridKw: 24 },
  };
}

describe('the cheapest charging', () => {
  const random = new SeededRandom(7);
  const cases = Array.from({ length: CASES }, () => drawnCase(random));

  it('costs what an exhaustive search finds, within 0.1 %, and works on the same days', {
    timeout: 120_000,
  }, () => {
    let works = 0;
    for (const ask of cases) {
      const best = searched(ask);
      const plan = planStore(ask, solve);
      expect(plan.unmetKwh === 0).toBe(Number.isFinite(best));
      if (!Number.isFinite(best)) continue;
      works += 1;
      expect(Math.abs(plan.cost - best)).toBeLessThanOrEqual(1e-3 * Math.max(best, 1e-3));
    }
    // Both kinds of day must have been among them.
    expect(works).toBeGreaterThan(CASES / 3);
    expect(works).toBeLessThan(CASES);
  });
  it('is proven by its multipliers: the bound is its cost', () => {
    for (const ask of cases) {
      const { cost, boundCost, unmetKwh } = planStore(ask, solve);
      if (unmetKwh > 0) continue;
      expect(boundCost).toBeLessThanOrEqual(cost + 1e-7);
      expect(boundCost).toBeGreaterThan(cost - 1e-6);
    }
  });
  it('needs the least capacity that is told: with that it works, with a hundredth less it does not', () => {
    let asked = 0;
    for (const ask of cases) {
      const least = leastCapacityKwh(ask, solve);
      if (least === null) {
        const huge = { ...ask, store: { ...ask.store, capacityKwh: 1e6 } };
        expect(planStore(huge, solve).unmetKwh).toBeGreaterThan(0);
        continue;
      }
      if (least < 1) continue;
      asked += 1;
      const withKwh = (capacityKwh: number) =>
        planStore({ ...ask, store: { ...ask.store, capacityKwh } }, solve).unmetKwh;
      expect(withKwh(least * 1.0001)).toBe(0);
      expect(withKwh(least * 0.99)).toBeGreaterThan(0);
    }
    expect(asked).toBeGreaterThan(5);
  });
});

describe('a linear problem', () => {
  // Least x + 2y with x + y ≥ 3 and x ≤ 2: x = 2, y = 1, cost 4; the multiplier of the row is 2.
  const problem = new Problem();
  const x = problem.column('x', 1, 0, 2);
  const y = problem.column('y', 2);
  problem.row(
    'both',
    [
      [x, 1],
      [y, 1],
    ],
    '>=',
    3,
  );
  it('is solved', () => {
    const { values } = solve(problem);
    expect([...values!]).toEqual([2, 1]);
    expect(problem.costOf(values!)).toBe(4);
    expect(problem.excessOf(values!)).toBe(0);
    expect(problem.excessOf([2, 0])).toBe(1);
  });
  it('is bounded by any multipliers, best by those of the optimum, whatever sign they come with', () => {
    expect(problem.boundBy([2])).toBe(4);
    expect(problem.boundBy([1])).toBe(3);
    expect(problem.boundBy([-5])).toBe(0);
    // Too dear a row would pay without end for y.
    expect(problem.boundBy([3])).toBe(Number.NEGATIVE_INFINITY);
  });
  it('without a solution is said to have none', () => {
    const none = new Problem();
    const only = none.column('x', 1, 0, 1);
    none.row('more', [[only, 1]], '>=', 2);
    expect(solve(none).values).toBeNull();
  });
  it('that cannot be read fails in one line, without the text of the module', () => {
    const odd = new Problem();
    odd.column('3 not a name <=', Number.NaN);
    odd.row('r', [[0, Number.NaN]], '>=', Number.NaN);
    let said = '';
    try {
      solve(odd);
    } catch (error) {
      said = (error as Error).message;
    }
    expect(said).toMatch(/^the solver of linear programmes/);
    expect(said.length).toBeLessThan(400);
  });
});
