/** A day simulated: energy that balances, limits that hold, trains that are late, a store that runs short. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { drawDays, drawn, KINDS, percentile } from '../../../src/plan/day-draws.js';
import { coarse } from '../../../src/plan/day-input.js';
import { runDay } from '../../../src/plan/day-run.js';
import { csvText, dayCsv } from '../../../src/plan/day-tables.js';
import { dayWith, planDay } from '../../../src/plan/plan-day.js';
import { fullStops, quickStops } from '../../../src/plan/stop-source.js';
import { callsOf, dayOf, storeOf, tariffOf } from './small-day.js';

const full = fullStops();
const TWO = [
  callsOf(['06:30', '06:35'], ['07:30', '07:34'], ['08:30', '08:35']),
  callsOf(['06:45', '06:50'], ['07:45', '07:49'], ['08:50', '08:55']),
];
const two = dayOf(TWO);
const plan = await planDay(two, full);

describe('a planned day', () => {
  it('works, and balances to a millionth: what came in is with the trains, lost, or in the store', () => {
    expect(plan.faults).toEqual([]);
    const { gridKwh, renewableKwh, fuelKwh, trainsKwh, lossKwh, storeChangeKwh } = plan.balance;
    const lost = Object.values(lossKwh).reduce((sum, kwh) => sum + kwh, 0);
    const into = gridKwh + renewableKwh + fuelKwh;
    expect(trainsKwh).toBeGreaterThan(200);
    expect(Math.abs(into - trainsKwh - lost - storeChangeKwh)).toBeLessThan(1e-6 * into);
  });
  it('gives the trains what a run of each stop gives, no more than its rig permits', () => {
    const charged = plan.run.calls.filter((c) => c.at === 'shoes');
    expect(charged).toHaveLength(6);
    for (const { done, arrivesS, departsS } of charged) {
      // 1500 A at no more than 192 × 4.12 V, for no longer than the dwell.
      expect(done.energyKwh).toBeLessThan((1.5 * 192 * 4.12 * (departsS - arrivesS)) / 3600);
      expect(done.peakSupplyKw).toBeLessThanOrEqual(1300);
      expect(done.supplyKwh).toBeGreaterThan(done.energyKwh);
      expect(done.durationS).toBeLessThanOrEqual(departsS - arrivesS);
    }
  });
  it('as simulated keeps every limit that the plan of the store kept', () => {
    const { store, tariff, day } = two;
    const { supply } = plan.run;
    expect(supply.lowestKwh).toBeGreaterThanOrEqual(store.floorShare * store.capacityKwh - 1e-6);
    expect(supply.highestKwh).toBeLessThanOrEqual(store.ceilingShare * store.capacityKwh + 1e-6);
    expect(supply.storeChangeKwh).toBeGreaterThan(-1e-6);
    expect(Math.max(...supply.chargeKw)).toBeLessThanOrEqual(store.maxChargeKw + 1e-6);
    expect(supply.peakKw).toBeLessThanOrEqual(tariff.maxGridKw + 1e-6);
    expect(supply.peakStepKw).toBeCloseTo(plan.storePlan.peakKw, 6);
    expect(plan.cost.energy + plan.cost.peak).toBeCloseTo(plan.storePlan.cost, 6);
    for (const [t, kwh] of plan.storePlan.levelKwh.entries())
      expect(supply.levelKwh[t + 1]).toBeCloseTo(kwh, 6);
    expect(supply.levelKwh).toHaveLength((day.until - day.from) / day.stepS + 1);
  });
  it('costs no more than to make up for everything at once', () => {
    expect(plan.cost.total).toBeLessThan(plan.atOnce.total);
  });
  it('is the same to the byte when it is planned again', async () => {
    const again = await planDay(dayOf(TWO), fullStops());
    expect(JSON.stringify(again)).toBe(JSON.stringify(plan));
    expect(Object.values(dayCsv(again, two)).map(csvText)).toEqual(
      Object.values(dayCsv(plan, two)).map(csvText),
    );
  });
  it('works with the least capacity that it tells, and fails with nine tenths of it', async () => {
    const least = plan.leastCapacityKwh!;
    const withKwh = (capacityKwh: number) => planDay(dayOf(TWO, { store: storeOf({ capacityKwh }) }), full);
    expect((await withKwh(least * 1.001)).faults).toEqual([]);
    expect((await withKwh(least * 0.9)).feasible).toBe(false);
  });
});

describe('a day that goes wrong', () => {
  it('in its reckoning is not told at all: what came in must be accounted for', async () => {
    const lies: typeof full = (pair, call) => {
      const done = full(pair, call);
      return { ...done, energyKwh: done.energyKwh * (1 + 1e-5) };
    };
    await expect(planDay(two, lies)).rejects.toThrow(/does not balance/);
  });
  it('with an empty store gives the last trains less, never what is not there', async () => {
    const store = storeOf({ capacityKwh: 150, maxChargeKw: 5 });
    const poor = await planDay(dayOf(TWO, { store }), full);
    expect(poor.feasible).toBe(false);
    expect(poor.storePlan.unmetKwh).toBeGreaterThan(0);
    expect(poor.run.supply.lowestKwh).toBeGreaterThanOrEqual(15 - 1e-6);
    expect(poor.run.calls.some((c) => c.heldBy === 'energy')).toBe(true);
    expect(poor.balance.errorShare).toBeLessThan(1e-6);
  });
  it('departs late where a train must have more, and stands on until it has', () => {
    const calls = callsOf(['06:30', '06:32']);
    const must = { ...calls[1]!, leaveSoc: 0.65 };
    const { calls: told } = runDay(dayOf([[calls[0]!, must]]), full, null);
    const late = told.at(-1)!;
    expect(late.lateS).toBeGreaterThan(30);
    expect(late.socTo).toBeGreaterThanOrEqual(0.65 - 1e-3);
    expect(late.departsS - late.arrivesS).toBeGreaterThanOrEqual(late.done.durationS);
  });
  it('hands lateness on to the next call and to who waits for the berth', () => {
    const calls = [callsOf(['06:30', '06:35'], ['07:30', '07:34']), callsOf(['06:36', '06:41'])];
    const { calls: told } = runDay(dayOf(calls), full, null, { late: { train: 0, call: 1, seconds: 240 } });
    const of = (train: string) => told.filter((c) => c.train === train && c.at === 'shoes');
    const [first, second] = of('train-1');
    expect(first!.arrivesS).toBe(6.5 * 3600 + 240);
    expect(first!.lateS).toBe(0 + Math.max(0, 240 + 60 - 300));
    expect(second!.arrivesS).toBe(7.5 * 3600);
    const [waits] = of('train-2');
    expect(waits!.arrivesS).toBeGreaterThanOrEqual(first!.departsS);
  });
  it('sinks below the floor, and says which train and when', async () => {
    const calls = callsOf(['06:30', '06:35']);
    const far = { ...calls[1]!, run: { energyKwh: 300 } };
    const { faults } = await planDay(dayOf([[calls[0]!, far]]), full);
    expect(faults.join()).toMatch(/train-1 sinks to [\d.]+ % at 06:\d\d.*below its floor of 15 %/);
  });
  it('with a connection that is too small is told so', async () => {
    const tight = dayOf(TWO, { tariff: tariffOf({ maxGridKw: 20 }) });
    const { feasible, faults, leastCapacityKwh } = await planDay(tight, full);
    expect(feasible).toBe(false);
    expect(faults[0]).toMatch(/kWh are wanting/);
    expect(leastCapacityKwh).toBeNull();
  });
});

describe('drawn days', () => {
  const quick = quickStops();
  const draw = (seed: number) => drawDays(two, quick, plan.schedule, { seed, days: 6 });

  it('are the same for the same seed, and others for another', () => {
    expect(JSON.stringify(draw(3))).toBe(
      JSON.stringify(drawDays(two, quickStops(), plan.schedule, { seed: 3, days: 6 })),
    );
    expect(JSON.stringify(draw(4))).not.toBe(JSON.stringify(draw(3)));
  });
  it('are harder than the day as planned where they should be', () => {
    const lowest = (events: Parameters<typeof dayWith>[3]): number =>
      Math.min(...dayWith(coarse(two), quick, plan.schedule, events).run.trains.map((t) => t.lowestSoc));
    const planned = lowest({});
    expect(lowest({ raftOut: 0 })).toBeLessThan(planned);
    expect(lowest({ colderK: 10, auxiliariesTimes: 1.3 })).toBeLessThan(planned);
    expect(lowest({ skipped: { train: 0, call: 1 } })).toBeLessThan(planned);
  });
  it('take only calls and trains that there are', () => {
    const random = new SeededRandom(9);
    for (let i = 0; i < 300; i++)
      for (const kind of KINDS) {
        const { late, skipped, raftOut = 0 } = drawn(kind, two, random);
        expect(TWO[raftOut]).toBeDefined();
        if (late !== undefined) expect(TWO[late.train]![late.call]).toBeDefined();
        if (late !== undefined) expect(late.call).toBeGreaterThan(0);
        if (skipped !== undefined) expect(TWO[skipped.train]![skipped.call]!.at).toBe('shoes');
      }
  });
  it('are told by percentiles that lie among them', () => {
    expect(percentile([3, 1, 2], 0.5)).toBe(2);
    expect(percentile([0, 10], 0.25)).toBe(2.5);
    for (const { lowestTrainSoc, cost } of draw(3))
      for (const { p5, p50, p95 } of [lowestTrainSoc, cost]) expect(p5 <= p50 && p50 <= p95).toBe(true);
  });
});

describe('quick stops', () => {
  it('come out near full ones, and balance as they do', () => {
    const near = runDay(two, quickStops(), null);
    const exact = runDay(two, full, null);
    const charged = (run: typeof near): number => run.trains.reduce((sum, t) => sum + t.chargedKwh, 0);
    expect(Math.abs(charged(near) / charged(exact) - 1)).toBeLessThan(0.03);
    for (const { done } of near.calls)
      expect(done.supplyKwh).toBeCloseTo(done.energyKwh + done.converterKwh + done.lineKwh, 9);
  });
});
