/**
 * The charge of one stop, in steps: current at the governed slope under the least of the limits that the checks of a
 * session name, to the end they name or to the moment at which the train must be let go. More energy cannot be had
 * within those limits: at no moment does less than what is permitted flow.
 */
import type { Check, CurrentLimit, EndReason, Wish } from '../checks/check.js';
import { NO_WISH } from '../checks/check.js';
import { heat } from '../checks/heat.js';
import { standingLimits } from '../checks/standing-limits.js';
import { supply } from '../checks/supply.js';
import { batteryWindow } from '../checks/window.js';
import type { Phase } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { authorityCeilingA } from '../supervisor/commands.js';
import { fixedLimits, govern } from '../supervisor/governor.js';
import type { Lead } from './lead.js';
import { Sight } from './sight.js';
import { type Flow, type StopStart, TrainModel } from './train-model.js';

export const STEP_S = 0.5;
/** No stop is planned for longer. */
const LONGEST_S = 6 * 3600;

export interface PlanPoint {
  /** Since the person asked for the start. */
  readonly atS: number;
  readonly currentA: number;
  readonly leastA: number;
  readonly trainV: number;
  readonly supplyKw: number;
  readonly energyKwh: number;
  readonly soc: number;
  readonly cellC: number;
  readonly cableC: number;
  readonly contactC: number;
}

export interface BindingSpan {
  readonly limit: string;
  readonly fromS: number;
  toS: number;
}

export interface StopRun {
  readonly points: readonly PlanPoint[];
  readonly binding: readonly BindingSpan[];
  readonly endReason: EndReason;
  /** From the start order to the plug free. */
  readonly durationS: number;
  /** When the current is told to come down. */
  readonly downAtS: number;
  /** When it must be at the latest: the longest session (`maxS`) to ask for; Infinity where the stop is open. */
  readonly latestDownS: number;
  readonly energyKwh: number;
  readonly socEnd: number;
  readonly peak: {
    readonly currentA: number;
    readonly cellC: number;
    readonly cableC: number;
    readonly contactC: number;
    readonly supplyKw: number;
  };
  readonly end: { readonly cellC: number; readonly cableC: number; readonly contactC: number };
  readonly supplyKwh: number;
  readonly lossKwh: { readonly converter: number; readonly line: number; readonly rafts: number };
}

export interface StopAsk {
  readonly start: StopStart;
  readonly lead: Lead;
  /** NaN where it is not asked for. */
  readonly socTo: number;
  readonly energyKwh: number;
  /** The plug is free no later than this after the start order, s; Infinity when open. */
  readonly dwellS: number;
  /** Points are kept this often. */
  readonly stepS?: number;
  readonly keeps?: boolean;
}

// biome-ignore lint/suspicious/noExplicitAny: each check keeps a state of its own type
const LIMITING: readonly Check<any>[] = [standingLimits, heat, batteryWindow, supply];

/** Energy, heat and time of one stop. */
export function runStop(rig: Rig, ask: StopAsk): StopRun {
  return new Running(rig, ask).run();
}

class Running {
  readonly #model: TrainModel;
  readonly #sight: Sight;
  readonly #states: unknown[];
  readonly #wish: Wish;
  readonly #stepS: number;
  readonly #points: PlanPoint[] = [];
  readonly #binding: BindingSpan[] = [];
  #atS: number;
  #setpointA = 0;
  #leastA = 0;
  #slopeAPerS = 0;
  #energyKwh = 0;
  #supplyKwh = 0;
  readonly #loss = { converter: 0, line: 0, rafts: 0 };
  readonly #peak = { currentA: 0, cellC: 0, cableC: 0, contactC: 0, supplyKw: 0 };
  #flow: Flow;

  constructor(
    private readonly rig: Rig,
    private readonly ask: StopAsk,
  ) {
    this.#model = new TrainModel(rig, ask.start);
    this.#sight = new Sight(rig);
    this.#states = LIMITING.map((check) => check.initial(rig));
    this.#stepS = ask.stepS ?? STEP_S;
    this.#wish = { ...NO_WISH, targetSoc: ask.socTo, targetEnergyKwh: ask.energyKwh };
    this.#atS = ask.lead.toCurrentS;
    this.#flow = this.#model.flow(0);
  }

  run(): StopRun {
    const { lead } = this.ask;
    this.#wait(lead.toCurrentS);
    this.#keep();
    const end = this.#charge(lead);
    const downAtS = this.#atS;
    const latestDownS =
      end === 'deadline'
        ? downAtS
        : this.ask.dwellS - lead.toFreeS - this.#setpointA / this.rig.ramp.downAPerS;
    while (this.#setpointA > 0 && this.#atS < LONGEST_S) this.#step('ramping-down', 'ramp-down', [], null);
    this.#keep();
    this.#wait(lead.toFreeS);
    return {
      ...{ points: this.#points, binding: this.#binding, endReason: end },
      ...{ durationS: this.#atS + lead.toFreeS, downAtS, latestDownS },
      ...{ energyKwh: this.#energyKwh, socEnd: this.#model.soc, supplyKwh: this.#supplyKwh },
      ...{ peak: this.#peak, lossKwh: this.#loss },
      end: {
        cellC: this.#model.hottestCellC,
        cableC: this.#model.cable.conductorC,
        contactC: Math.max(this.#model.cable.contactC.p, this.#model.cable.contactC.n),
      },
    };
  }

  /** Nothing flows; what is warm cools all the same. */
  #wait(seconds: number): void {
    const still = this.#model.flow(0);
    const count = Math.max(1, Math.ceil(seconds / this.#stepS));
    for (let i = 0; i < count; i++) this.#model.step(seconds / count, still, 0);
  }

  #charge(lead: Lead): EndReason {
    const holdA = authorityCeilingA(this.rig, false);
    let heldS = 0;
    while (this.#atS < LONGEST_S) {
      const isHeld = heldS < lead.atHoldPointS;
      const hold: CurrentLimit[] = isHeld ? [{ limit: 'hold point', currentA: holdA }] : [];
      const end = this.#step(isHeld ? 'ramping' : 'holding', 'govern', hold, this.#wish);
      if (isHeld && this.#setpointA >= Math.min(holdA, this.#leastA) - 0.5) heldS += this.#stepS;
      if (end !== null) return end;
      // As late as the ramp down and what comes after it permit, in whole steps.
      const downS = Math.ceil(this.#setpointA / this.rig.ramp.downAPerS / this.#stepS) * this.#stepS;
      if (this.#atS + this.#stepS + downS + lead.toFreeS > this.ask.dwellS) return 'deadline';
    }
    return 'deadline';
  }

  /** @param wish null on the way down: nothing ends it any more */
  #step(
    phase: Phase,
    mode: 'govern' | 'ramp-down',
    more: readonly CurrentLimit[],
    wish: Wish | null,
  ): EndReason | null {
    const stepMs = 1000 * this.#stepS;
    const { trainV } = this.#flow;
    const limits = [...fixedLimits(this.rig, trainV), ...more];
    let end: EndReason | null = null;
    if (wish !== null) {
      const seen = this.#sight.of(this.#model, this.#flow, {
        ...{ nowMs: 1000 * this.#atS, stepMs, phase, phaseMs: stepMs, sessionMs: 1000 * this.#atS },
        ...{ currentA: this.#setpointA, energyKwh: this.#energyKwh, wish },
        governed: {
          ...{ setpointA: this.#setpointA, leastLimitA: this.#leastA, slopeAPerS: this.#slopeAPerS },
          holdPointA: authorityCeilingA(this.rig, false),
        },
      });
      for (const [i, check] of LIMITING.entries()) {
        const said = check.run(this.#states[i], seen, this.rig);
        this.#states[i] = said.state;
        limits.push(...(said.limits ?? []));
        end ??= said.end ?? null;
      }
      // Seen at the beginning of the step: nothing more flows upward in it.
      if (end !== null) return end;
    }
    const { state, least, slopeAPerS } = this.#govern(mode, limits, trainV);
    const meanA = (this.#setpointA + state.setpointA) / 2;
    this.#setpointA = state.setpointA;
    this.#leastA = least.currentA;
    this.#slopeAPerS = slopeAPerS;
    this.#flow = this.#model.flow(meanA);
    this.#account(meanA);
    this.#model.step(this.#stepS, this.#flow, meanA);
    this.#atS += this.#stepS;
    if (mode === 'govern') this.#bind(least.limit);
    this.#keep();
    return null;
  }

  /** The governor's own step is bounded to two report periods; here it is taken as often as it would be. */
  #govern(mode: 'govern' | 'ramp-down', limits: readonly CurrentLimit[], trainV: number) {
    const { periodMs } = this.rig.link;
    const times = Math.max(1, Math.round((1000 * this.#stepS) / periodMs));
    let governed = govern({ setpointA: this.#setpointA }, mode, limits, trainV, periodMs, this.rig);
    for (let i = 1; i < times; i++)
      governed = govern(governed.state, mode, limits, trainV, periodMs, this.rig);
    return governed;
  }

  #account(currentA: number): void {
    const hours = this.#stepS / 3600;
    const { batteryW, supplyW, lossW } = this.#flow;
    const { conductorC, contactC } = this.#model.cable;
    this.#energyKwh += (batteryW / 1000) * hours;
    this.#supplyKwh += (supplyW / 1000) * hours;
    for (const part of ['converter', 'line', 'rafts'] as const)
      this.#loss[part] += (lossW[part] / 1000) * hours;
    const peak = this.#peak;
    peak.currentA = Math.max(peak.currentA, currentA);
    peak.cellC = Math.max(peak.cellC, this.#model.hottestCellC);
    peak.cableC = Math.max(peak.cableC, conductorC);
    peak.contactC = Math.max(peak.contactC, contactC.p, contactC.n);
    peak.supplyKw = Math.max(peak.supplyKw, supplyW / 1000);
  }

  #bind(limit: string): void {
    const last = this.#binding.at(-1);
    if (last?.limit === limit) last.toS = this.#atS;
    else this.#binding.push({ limit, fromS: this.#atS - this.#stepS, toS: this.#atS });
  }

  #keep(): void {
    if (this.ask.keeps === false) return;
    const { contactC, conductorC: cableC } = this.#model.cable;
    this.#points.push({
      ...{ atS: this.#atS, currentA: this.#setpointA, leastA: this.#leastA, cableC },
      trainV: this.#flow.trainV,
      supplyKw: this.#flow.supplyW / 1000,
      energyKwh: this.#energyKwh,
      soc: this.#model.soc,
      cellC: this.#model.hottestCellC,
      contactC: Math.max(contactC.p, contactC.n),
    });
  }
}
