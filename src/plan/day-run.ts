/**
 * A day simulated: trains run, call and charge in the order of their arrivals, from what the supplies have left then.
 * Who is late comes late to the next call, stands no shorter than it must, and waits for a berth that is taken.
 */
import type { Rig } from '../rig/schema.js';
import { type DayInput, evenLoads } from './day-input.js';
import { DaySupply, type Feed, type Schedule, type SupplyDay } from './day-supply.js';
import { drive, type Load } from './drive.js';
import { nothingTaken, type Pair, type StopCall, type StopDone, type StopSource } from './stop-source.js';
import type { DayStep } from './store-plan.js';
import type { Call, Train } from './timetable.js';

/** What goes otherwise than planned; trains and calls by their places in the timetable. */
export interface Events {
  readonly late?: { readonly train: number; readonly call: number; readonly seconds: number };
  readonly skipped?: { readonly train: number; readonly call: number };
  readonly raftOut?: number;
  readonly colderK?: number;
  /** On a cold day heating is among them. */
  readonly auxiliariesTimes?: number;
}

export interface TrainPoint {
  readonly atS: number;
  readonly soc: number;
  readonly cellC: number;
}

export interface CallRecord {
  readonly train: string;
  readonly at: string;
  readonly arrivesS: number;
  readonly departsS: number;
  readonly lateS: number;
  readonly feed: Feed | null;
  readonly socFrom: number;
  readonly socTo: number;
  readonly done: StopDone;
  /** Less was charged than could be, because the supply had no more. */
  readonly heldBy: 'power' | 'energy' | null;
  readonly wanting: boolean;
}

export interface TrainDay {
  readonly train: string;
  readonly points: readonly TrainPoint[];
  readonly lowestSoc: number;
  readonly lowestAtS: number;
  readonly endSoc: number;
  readonly hottestC: number;
  readonly coldestC: number;
  readonly chargedKwh: number;
  readonly lateDepartures: number;
  readonly worstLateS: number;
  readonly stranded: boolean;
}

export interface DayRun {
  readonly trains: readonly TrainDay[];
  readonly calls: readonly CallRecord[];
  readonly supply: SupplyDay;
  readonly steps: readonly DayStep[];
}

/** Later than this is late. */
export const LATE_S = 30;
/** Below this it is not worth a session. */
const LEAST_KW = 50;
const POWER_STEP_KW = 25;
/** Of what is in the store: a run to an energy comes out near it, and a shorter one finds less charged meanwhile. */
const NEAR_SHARE = 0.98;
const LEAST_SHARE = 0.05;
const ATTEMPTS = 5;

export function runDay(
  input: DayInput,
  source: StopSource,
  schedule: Schedule | null,
  events: Events = {},
): DayRun {
  return new Running(input, source, schedule, events).run();
}

interface Moving {
  readonly train: Train;
  readonly index: number;
  readonly rig: Rig;
  readonly points: TrainPoint[];
  soc: number;
  cellC: number;
  hottestC: number;
  next: number;
  arrivesS: number;
  stranded: boolean;
}

class Running {
  readonly #supply: DaySupply;
  readonly #calls: CallRecord[] = [];
  readonly #berthFreeS = new Map<string, number>();
  readonly #ambientC: number;

  constructor(
    private readonly input: DayInput,
    private readonly source: StopSource,
    private readonly schedule: Schedule | null,
    private readonly events: Events,
  ) {
    this.#supply = new DaySupply(input, schedule);
    this.#ambientC = input.day.ambientC - (events.colderK ?? 0);
  }

  run(): DayRun {
    const moving = this.input.day.trains.map((train, index) => this.#begin(train, index));
    for (;;) {
      const open = moving.filter((m) => m.next < m.train.calls.length && !m.stranded);
      if (open.length === 0) break;
      this.#call(open.reduce((first, m) => (m.arrivesS < first.arrivesS ? m : first)));
    }
    const steps = this.#supply.steps();
    return {
      trains: moving.map((m) => this.#dayOf(m)),
      calls: this.#calls,
      supply: this.#supply.finish(),
      steps,
    };
  }

  #begin(train: Train, index: number): Moving {
    const whole = this.input.trainRig(train);
    const rig = this.events.raftOut === index ? withoutRaft(whole) : whole;
    const cellC = train.startC - (this.events.colderK ?? 0);
    const moving: Moving = {
      ...{ train, index, rig, soc: train.startSoc, cellC, hottestC: cellC, next: 0 },
      ...{ arrivesS: train.calls[0]!.arrives + this.#delayS(index, 0), points: [], stranded: false },
    };
    this.#keep(moving, moving.arrivesS);
    return moving;
  }

  #delayS(train: number, call: number): number {
    const { late } = this.events;
    return late?.train === train && late.call === call ? late.seconds : 0;
  }

  /** One call: a place at the berth, the charge, the departure, and the run to the next. */
  #call(moving: Moving): void {
    const { train } = moving;
    const { day } = this.input;
    const call = train.calls[moving.next]!;
    const freeS = this.#berthFreeS.get(call.at) ?? 0;
    if (freeS > Math.min(day.until, moving.arrivesS)) {
      // It waits outside; others may arrive elsewhere before it gets in.
      moving.arrivesS = freeS;
      return;
    }
    const arrivesS = Math.min(day.until, moving.arrivesS);
    this.#supply.advanceTo(arrivesS);
    const isBegin = moving.next === 0;
    const leastS = isBegin ? 0 : Math.min(day.leastDwellS, call.departs - call.arrives);
    const plannedS = Math.min(day.until, Math.max(call.departs, arrivesS + leastS));
    if (arrivesS > moving.points.at(-1)!.atS) this.#keep(moving, arrivesS);
    if (!call.sleeps) this.#stand(moving, plannedS - arrivesS);
    const socFrom = moving.soc;
    const { done, feed, heldBy, departsS } = this.#charge(moving, call, arrivesS, plannedS);
    moving.soc = done.socEnd;
    moving.cellC = done.cellC;
    moving.hottestC = Math.max(moving.hottestC, done.peakCellC);
    if (done.durationS > 0) this.#keep(moving, arrivesS + done.durationS);
    if (call.sleeps) this.#rest(moving, departsS - arrivesS - done.durationS);
    this.#keep(moving, departsS);
    this.#berthFreeS.set(call.at, departsS);
    this.#calls.push({
      ...{ train: train.name, at: call.at, arrivesS, departsS, lateS: departsS - call.departs },
      ...{ feed, socFrom, socTo: done.socEnd, done, heldBy },
      wanting: call.leaveSoc !== undefined && done.socEnd < call.leaveSoc - 1e-3,
    });
    moving.next += 1;
    this.#run(moving, call, departsS);
  }

  /** Auxiliaries while it stands; where it is charged too, they are made up for. */
  #stand(moving: Moving, seconds: number): void {
    const { auxiliariesKw } = moving.train;
    if (seconds <= 0) return;
    const kwh = (auxiliariesKw * (this.events.auxiliariesTimes ?? 1) * seconds) / 3600;
    this.#drive(moving, evenLoads(kwh, seconds));
  }

  /** Nothing flows; cells go towards the air. */
  #rest(moving: Moving, seconds: number): void {
    if (seconds > 0) this.#drive(moving, evenLoads(0, seconds));
  }

  #drive(moving: Moving, loads: readonly Load[]): void {
    const { soc, cellC, rig } = moving;
    const run = drive(rig, loads, { soc, cellC, ambientC: this.#ambientC });
    moving.soc = run.socEnd;
    moving.cellC = run.cellC;
    moving.hottestC = Math.max(moving.hottestC, run.hottestC);
    if (run.emptyAtKm !== null) moving.stranded = true;
  }

  #charge(moving: Moving, call: Call, arrivesS: number, plannedS: number) {
    const { day } = this.input;
    const none = (reason: string) => {
      const ask = this.#ask(moving, call, 0, 0);
      return { done: nothingTaken(ask, reason), feed: null, heldBy: null, departsS: plannedS } as const;
    };
    const whole = this.input.pairAt(moving.train, call.at);
    const { skipped } = this.events;
    const isSkipped = skipped?.train === moving.index && skipped.call === moving.next;
    if (whole === null || call.toSoc === 0 || isSkipped || moving.stranded) return none('none');
    const pair = moving.rig === this.input.trainRig(moving.train) ? whole : pairWithout(whole, moving.rig);
    const feed = pair.rig.supply.kind;
    const roomKw = this.#supply.roomKw(feed, arrivesS, plannedS);
    const ratedKw = pair.rig.supply.maxPowerW / 1000;
    const supplyKw = roomKw >= ratedKw ? ratedKw : Math.floor(roomKw / POWER_STEP_KW) * POWER_STEP_KW;
    if (supplyKw < LEAST_KW) return { ...none('no power left'), feed, heldBy: 'power' as const };
    const taken = this.#taken(pair, this.#ask(moving, call, plannedS - arrivesS, supplyKw), arrivesS);
    const lacks = call.leaveSoc !== undefined && taken.done.socEnd < call.leaveSoc;
    // Time helps only where it was time that was short.
    if (lacks && taken.done.endReason === 'deadline' && !taken.isHeld) {
      this.#supply.enter(feed, arrivesS, taken.done.slices, -1);
      const longer = this.#ask(moving, { ...call, toSoc: call.leaveSoc! }, day.until - arrivesS, supplyKw);
      const late = this.#taken(pair, longer, arrivesS);
      const departsS = Math.max(plannedS, Math.ceil(arrivesS + late.done.durationS));
      return { done: late.done, feed, heldBy: late.isHeld ? ('energy' as const) : null, departsS };
    }
    const heldBy = taken.isHeld ? ('energy' as const) : supplyKw < ratedKw ? ('power' as const) : null;
    return { done: taken.done, feed, heldBy, departsS: plannedS };
  }

  #ask(moving: Moving, call: Call, dwellS: number, supplyKw: number): StopCall {
    const { soc, cellC } = moving;
    return {
      start: { soc, cellC, ambientC: this.#ambientC },
      toSoc: call.toSoc ?? moving.rig.battery.ceilingSoc,
      ...{ energyKwh: Number.POSITIVE_INFINITY, dwellS, supplyKw },
    };
  }

  /** Charged, and entered with its supply; from a store no more than is in it. */
  #taken(pair: Pair, ask: StopCall, arrivesS: number): { done: StopDone; isHeld: boolean } {
    const { store } = this.input;
    const feed = pair.rig.supply.kind;
    let energyKwh = ask.energyKwh;
    for (let attempt = 0; attempt < ATTEMPTS; attempt++) {
      const done = this.source(pair, { ...ask, energyKwh });
      this.#supply.enter(feed, arrivesS, done.slices);
      const isAsked = feed === 'store' && this.schedule !== null && done.supplyKwh > 0;
      const spareKwh = isAsked ? this.#supply.spareKwh(arrivesS + done.durationS) : 0;
      if (spareKwh >= -1e-6) return { done, isHeld: attempt > 0 };
      this.#supply.enter(feed, arrivesS, done.slices, -1);
      const givenKwh = done.supplyKwh + spareKwh * store.dischargeEfficiencyShare;
      energyKwh = (NEAR_SHARE * done.energyKwh * givenKwh) / done.supplyKwh;
      if (givenKwh < LEAST_SHARE * done.supplyKwh) break;
    }
    return { done: nothingTaken(ask, 'store empty'), isHeld: true };
  }

  #run(moving: Moving, left: Call, departsS: number): void {
    const call = moving.train.calls[moving.next];
    if (call === undefined) return;
    const givenS = call.arrives - left.departs;
    const loads = this.input.loadsTo(call) ?? evenLoads(call.run?.energyKwh ?? 0, Math.max(1, givenS));
    const takesS = loads.reduce((sum, load) => sum + load.seconds, 0);
    const times = this.events.auxiliariesTimes ?? 1;
    const cold = times === 1 ? loads : loads.map((l) => ({ ...l, auxiliariesKwh: l.auxiliariesKwh * times }));
    if (call.run !== undefined) this.#drive(moving, cold);
    moving.arrivesS = departsS + Math.max(givenS, 0) + this.#delayS(moving.index, moving.next);
    this.#keep(moving, departsS + Math.min(takesS, Math.max(givenS, 0)));
    if (call.run !== undefined) this.#stand(moving, givenS - takesS);
  }

  #keep(moving: Moving, atS: number): void {
    moving.points.push({ atS, soc: moving.soc, cellC: moving.cellC });
  }

  #dayOf(moving: Moving): TrainDay {
    const { points, train } = moving;
    const own = this.#calls.filter((c) => c.train === train.name);
    const lowest = points.reduce((least, p) => (p.soc < least.soc ? p : least));
    const late = own.filter((c) => c.lateS > LATE_S);
    return {
      ...{ train: train.name, points, lowestSoc: lowest.soc, lowestAtS: lowest.atS },
      ...{ endSoc: moving.soc, hottestC: moving.hottestC, stranded: moving.stranded },
      coldestC: Math.min(...points.map((p) => p.cellC)),
      chargedKwh: own.reduce((sum, c) => sum + c.done.energyKwh, 0),
      lateDepartures: late.length,
      worstLateS: Math.max(0, ...late.map((c) => c.lateS)),
    };
  }
}

const shrunk = new WeakMap<Rig, Rig>();

/** One battery raft fewer: it is parted, and the others carry on. */
function withoutRaft(rig: Rig): Rig {
  const known = shrunk.get(rig);
  if (known !== undefined) return known;
  const { rafts } = rig.battery;
  const last = rafts.findLastIndex(({ kind }) => kind === 'battery');
  const isOnly = rafts.filter(({ kind }) => kind === 'battery').length < 2;
  const left = isOnly ? rig : { ...rig, battery: { ...rig.battery, rafts: rafts.toSpliced(last, 1) } };
  shrunk.set(rig, left);
  return left;
}

const pairWithout = (pair: Pair, { battery }: Rig): Pair => ({
  ...{ key: `${pair.key} without a raft`, lead: pair.lead },
  rig: { ...pair.rig, battery },
});
