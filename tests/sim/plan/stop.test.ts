/**
 * A planned stop against the session it asks for, on the simulated bench: the plan steps twice a second through the
 * limits of the checks, the session is the real supervisor over the codec with physics at 1 ms. A slice here;
 * `npm run acceptance:plan` holds 200 against each other.
 */
import { describe, expect, it } from 'vitest';
import { CHANGES } from '../../../src/plan/change.js';
import {
  MODEL_ENERGY_SHARE,
  MODEL_K,
  RESISTANCE_SHARE,
  readingKwh,
  TEMPERATURE_K,
  withResistance,
} from '../../../src/plan/margins.js';
import { planStop, type StopPlan } from '../../../src/plan/plan-stop.js';
import { runStop } from '../../../src/plan/stop-run.js';
import { type Done, type DrawnStop, drawStop, sessionOf } from './stops.js';

/** The slice: one that other changes than time would make long enough, and one that is. */
const SLICE = [3, 6];
const COUNT = Number(process.env.PLAN_STOPS ?? SLICE.length);
const TIMEOUT = { timeout: 60_000 + COUNT * 20_000 };
const seeds = process.env.PLAN_STOPS === undefined ? SLICE : Array.from({ length: COUNT }, (_, i) => i + 1);

const planOf = ({ loaded, wish }: DrawnStop): Promise<StopPlan> => planStop(loaded, wish);

function beside(drawn: DrawnStop, plan: StopPlan, done: Done): string[] {
  const { run } = plan;
  const off = (name: string, planned: number, got: number, most: number): string[] =>
    Math.abs(planned - got) <= most
      ? []
      : [
          `seed ${drawn.seed}, ${drawn.loaded.rig.name}: ${name} planned ${planned.toFixed(3)}, got ${got.toFixed(3)}`,
        ];
  // A charge to a state of charge ends by a reading; what that may be off is no fault of the plan.
  const read = readingKwh(drawn.loaded.rig, run, drawn.wish);
  return [
    ...(done.outcome === 'released' ? [] : [`seed ${drawn.seed}: ${done.outcome}`]),
    ...off('energy kWh', run.energyKwh, done.energyKwh, MODEL_ENERGY_SHARE * done.energyKwh + read),
    ...off('cell °C', run.end.cellC, done.cellC, MODEL_K),
    ...off('cable °C', run.end.cableC, done.cableC, MODEL_K),
    ...off('contact °C', run.end.contactC, done.contactC, MODEL_K),
  ];
}

describe('a planned stop', () => {
  it(
    `is what the session makes of it: energy within 1 %, heat within 1 K (${COUNT} stops)`,
    TIMEOUT,
    async () => {
      const wrong: string[] = [];
      let late = 0;
      let feasible = 0;
      for (const seed of seeds) {
        const drawn = drawStop(seed);
        const plan = await planOf(drawn);
        const done = await sessionOf(drawn, plan);
        wrong.push(...beside(drawn, plan, done));
        // Half a second of the plan's own step, and what a report waits.
        if (plan.feasible) feasible++;
        if (plan.feasible && done.durationS > drawn.wish.dwellS + 1) late++;
      }
      expect(wrong).toEqual([]);
      expect(late).toBe(0);
      expect(feasible).toBeGreaterThan(0);
    },
  );

  it('covers by its margins a train whose cells are not the ones it reckoned with', TIMEOUT, async () => {
    const outside: string[] = [];
    for (const seed of seeds.filter((s) => s % 3 === 0)) {
      const drawn = drawStop(seed);
      const plan = await planOf(drawn);
      const sign = seed % 2 === 0 ? 1 : -1;
      const built = withResistance(drawn.loaded.rig, 1 + sign * RESISTANCE_SHARE);
      const done = await sessionOf(drawn, plan, built, seed % 4 < 2 ? TEMPERATURE_K : -TEMPERATURE_K);
      for (const name of ['energyKwh', 'socEnd', 'cellC', 'cableC', 'contactC'] as const) {
        const { low, high } = plan.margins[name];
        if (!(done[name] >= low && done[name] <= high))
          outside.push(`seed ${seed}: ${name} ${done[name]} outside ${low} to ${high}`);
      }
    }
    expect(outside).toEqual([]);
  });

  it('offers no change that does not do it', TIMEOUT, async () => {
    const offered = new Set<string>();
    for (const seed of seeds) {
      const { loaded, wish } = drawStop(seed);
      const { feasible, remedies, lead, leastDwellS } = await planStop(loaded, wish);
      if (feasible) {
        expect(remedies).toEqual([]);
        expect(leastDwellS).toBeLessThanOrEqual(wish.dwellS);
      }
      for (const { change, value } of remedies) {
        offered.add(change);
        const made = CHANGES.find((c) => c.name === change)?.make(loaded.rig, wish.start, value);
        const asked = change === 'dwell' ? { ...wish, dwellS: value } : { ...wish, start: made!.start };
        const run = runStop(made?.rig ?? loaded.rig, { ...asked, lead });
        expect(run.socEnd, `seed ${seed}: ${change} ${value}`).toBeGreaterThanOrEqual(wish.socTo - 1e-3);
        expect(run.durationS).toBeLessThanOrEqual(asked.dwellS + 1e-6);
      }
    }
    // Time alone would show nothing of the changes themselves.
    expect(offered.size).toBeGreaterThan(1);
  });
});
