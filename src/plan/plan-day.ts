/**
 * A day planned and checked: how much the trains take, the cheapest charging of the store for that, and the whole day
 * simulated again with it.
 */
import { dayTime } from './day-clock.js';
import type { DayInput } from './day-input.js';
import { type DayRun, type Events, LATE_S, runDay } from './day-run.js';
import type { Schedule } from './day-supply.js';
import { solver } from './solver.js';
import type { StopSource } from './stop-source.js';
import { leastCapacityKwh, planStore, type StoreAsk, type StorePlan } from './store-plan.js';

export interface Cost {
  readonly energy: number;
  readonly peak: number;
  readonly fuel: number;
  readonly total: number;
}

/** kWh; what comes in is what goes out. */
export interface Balance {
  readonly gridKwh: number;
  readonly renewableKwh: number;
  readonly fuelKwh: number;
  readonly trainsKwh: number;
  readonly lossKwh: {
    readonly converter: number;
    readonly line: number;
    readonly charging: number;
    readonly discharging: number;
    readonly standing: number;
  };
  readonly storeChangeKwh: number;
  /** Share of what came in. */
  readonly errorShare: number;
}

export interface DayResult {
  readonly run: DayRun;
  readonly cost: Cost;
  readonly balance: Balance;
  /** What does not hold, for people. */
  readonly faults: readonly string[];
  /** How many trains sink below their floor or are stranded, and calls left with less than should be. */
  readonly trainFaults: number;
}

export interface DayPlan extends DayResult {
  readonly feasible: boolean;
  readonly storePlan: StorePlan;
  readonly schedule: Schedule;
  /** null where no capacity is enough. */
  readonly leastCapacityKwh: number | null;
  /** The store made up as soon as something was taken, with no regard to prices. */
  readonly atOnce: Cost;
}

const BALANCED_SHARE = 1e-6;
const NEAR_KWH = 1e-6;

export async function planDay(input: DayInput, source: StopSource): Promise<DayPlan> {
  const solve = await solver();
  const asked = runDay(input, source, null);
  const ask = askOf(input, asked);
  const storePlan = planStore(ask, solve);
  const schedule = scheduleOf(input, storePlan);
  const checked = resultOf(input, runDay(input, source, schedule));
  const unmet =
    storePlan.unmetKwh > 0
      ? [`the store cannot do it: even charged at its best ${storePlan.unmetKwh.toFixed(1)} kWh are wanting`]
      : [];
  return {
    ...{ ...checked, storePlan, schedule, faults: [...unmet, ...checked.faults] },
    feasible: unmet.length === 0 && checked.faults.length === 0,
    leastCapacityKwh: leastCapacityKwh(ask, solve),
    atOnce: resultOf(input, runDay(input, source, atOnce(input, ask))).cost,
  };
}

export const askOf = ({ store, tariff, day }: DayInput, { steps }: DayRun): StoreAsk => ({
  ...{ store, steps, stepS: day.stepS },
  ...{ peakPricePerKw: tariff.peakPricePerKw, maxGridKw: tariff.maxGridKw },
});

export function scheduleOf({ store }: DayInput, plan: StorePlan): Schedule {
  const beginKwh = store.startShare * store.capacityKwh;
  return {
    chargeKwh: plan.chargeKwh,
    levelKwh: [beginKwh, ...plan.levelKwh.slice(0, -1)],
    peakKw: plan.peakKw,
  };
}

const atOnce = ({ store }: DayInput, { steps }: StoreAsk): Schedule => ({
  chargeKwh: steps.map(() => 0),
  levelKwh: steps.map(() => store.startShare * store.capacityKwh),
  peakKw: Number.POSITIVE_INFINITY,
});

/** One day otherwise than planned, with the charging as planned. */
export const dayWith = (input: DayInput, source: StopSource, schedule: Schedule, events: Events): DayResult =>
  resultOf(input, runDay(input, source, schedule, events));

function resultOf(input: DayInput, run: DayRun): DayResult {
  const below = run.trains.filter((t, i) => {
    const { floorSoc } = input.trainRig(input.day.trains[i]!).battery;
    return t.stranded || t.lowestSoc < floorSoc;
  });
  return {
    ...{ run, cost: costOf(input, run), balance: balanceOf(run), faults: faultsOf(input, run) },
    trainFaults: below.length + run.calls.filter((c) => c.wanting).length,
  };
}

function costOf({ tariff, day }: DayInput, { supply, steps }: DayRun): Cost {
  const hours = day.stepS / 3600;
  const energy = supply.gridKw.reduce((sum, kw, t) => sum + kw * hours * steps[t]!.pricePerKwh, 0);
  const peak = supply.peakStepKw * tariff.peakPricePerKw;
  const fuel = supply.fuelKwh * tariff.fuelPricePerKwh;
  return { energy, peak, fuel, total: energy + peak + fuel };
}

/** @throws Error where energy was made or lost in reckoning */
function balanceOf({ supply, calls }: DayRun): Balance {
  const total = (pick: (call: (typeof calls)[number]) => number): number =>
    calls.reduce((sum, call) => sum + pick(call), 0);
  const { gridKwh, renewableKwh, fuelKwh, storeChangeKwh } = supply;
  const trainsKwh = total((c) => c.done.energyKwh);
  const lossKwh = {
    converter: total((c) => c.done.converterKwh),
    line: total((c) => c.done.lineKwh),
    ...supply.lossKwh,
  };
  const into = gridKwh + renewableKwh + fuelKwh;
  const out = Object.values(lossKwh).reduce((sum, kwh) => sum + kwh, trainsKwh + storeChangeKwh);
  const errorShare = Math.abs(into - out) / Math.max(1, into);
  if (!(errorShare <= BALANCED_SHARE))
    throw new Error(
      `the plan of the day does not balance: ${into} kWh came in, ${out} kWh are accounted for`,
    );
  return { gridKwh, renewableKwh, fuelKwh, trainsKwh, lossKwh, storeChangeKwh, errorShare };
}

function faultsOf({ store, tariff, trainRig, day }: DayInput, { trains, supply, calls }: DayRun): string[] {
  const faults: string[] = [];
  for (const [t, train] of trains.entries()) {
    const { floorSoc } = trainRig(day.trains[t]!).battery;
    if (train.stranded) faults.push(`${train.train} runs empty and stays on the line`);
    else if (train.lowestSoc < floorSoc)
      faults.push(
        `${train.train} sinks to ${(100 * train.lowestSoc).toFixed(1)} % at ${dayTime(train.lowestAtS)}, below its floor of ${100 * floorSoc} %`,
      );
  }
  for (const call of calls) {
    const where = `${call.train} at ${call.at}, ${dayTime(call.arrivesS)}`;
    if (call.lateS > LATE_S) faults.push(`${where}: departs ${Math.round(call.lateS)} s late`);
    if (call.wanting) faults.push(`${where}: leaves with less than it should have`);
    if (call.heldBy !== null) faults.push(`${where}: held by what the supply had left (${call.heldBy})`);
  }
  if (supply.lowestKwh < store.floorShare * store.capacityKwh - NEAR_KWH)
    faults.push(`the store sinks to ${supply.lowestKwh.toFixed(1)} kWh, below its floor`);
  if (supply.storeChangeKwh < -Math.max(NEAR_KWH, 1e-3 * store.capacityKwh))
    faults.push(`the store ends the day ${(-supply.storeChangeKwh).toFixed(1)} kWh lower than it began`);
  if (supply.peakKw > tariff.maxGridKw * (1 + 1e-9))
    faults.push(
      `the grid gives up to ${supply.peakKw.toFixed(0)} kW, more than the ${tariff.maxGridKw} kW of its connection`,
    );
  return faults;
}
