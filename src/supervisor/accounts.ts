/**
 * The session's own account of energy, peaks and binding limits, from readings alone. Energies are integrated
 * by the trapezoid rule over the supervisor's clock; a gap longer than a second is not bridged.
 */
import type { Observation } from '../checks/check.js';

const WH_PER_WS = 1 / 3600;
const LONGEST_GAP_MS = 1000;
/** The ramp is measured over this window, so that ripple and rounding do not count as a slope. */
const RAMP_WINDOW_MS = 500;
/** Bounds the window whatever the report period. */
const MAX_RAMP_SAMPLES = 64;

export interface BindingSpan {
  readonly limit: string;
  readonly fromS: number;
  toS: number;
}

interface Powers {
  readonly atMs: number;
  readonly batteryW: number;
  readonly supplyW: number;
  readonly outputW: number;
  readonly trainW: number;
}

/** What cannot be read counts as nothing. */
const number = (x: number | undefined): number => (x !== undefined && Number.isFinite(x) ? x : 0);

const EMPTY: Powers = { atMs: 0, batteryW: 0, supplyW: 0, outputW: 0, trainW: 0 };
/** At most this many spans are kept; later changes extend the last one, marked `and others`. */
const MAX_SPANS = 200;

export class Accounts {
  #last: Powers | null = null;
  #wh = { battery: 0, supply: 0, output: 0, train: 0 };
  #ramp: { readonly atMs: number; readonly currentA: number }[] = [];
  peakCurrentA = 0;
  peakRampAPerS = 0;
  socStart = Number.NaN;
  socEnd = Number.NaN;
  /** Greatest voltage anyone could touch at the plug, as last read by `residual`. */
  residualV = Number.NaN;
  readonly binding: BindingSpan[] = [];

  take(seen: Observation): void {
    const { meter, supply, train } = seen;
    if (meter?.isNew === true) this.#takeCurrent(seen.nowMs, meter.value.currentA, meter.value.currentMaxA);
    if (meter?.isNew !== true && !seen.rafts.some((r) => r?.isNew)) return;
    let batteryW = 0;
    for (const r of seen.rafts) batteryW += number(r?.value.packV) * number(r?.value.packA);
    const now: Powers = {
      atMs: seen.nowMs,
      batteryW,
      supplyW: number(supply?.value.powerW),
      outputW: number(meter?.value.outputV) * number(meter?.value.currentA),
      trainW: number(train?.value.trainV) * number(meter?.value.currentA),
    };
    const last = this.#last ?? { ...EMPTY, atMs: seen.nowMs };
    const gapMs = now.atMs - last.atMs;
    if (gapMs > 0 && gapMs <= LONGEST_GAP_MS) {
      const hours = (gapMs / 1000) * WH_PER_WS;
      this.#wh.battery += ((last.batteryW + now.batteryW) / 2) * hours;
      this.#wh.supply += ((last.supplyW + now.supplyW) / 2) * hours;
      this.#wh.output += ((last.outputW + now.outputW) / 2) * hours;
      this.#wh.train += ((last.trainW + now.trainW) / 2) * hours;
    }
    this.#last = now;
    const soc = meanSoc(seen);
    if (Number.isFinite(soc)) {
      if (!Number.isFinite(this.socStart)) this.socStart = soc;
      this.socEnd = soc;
    }
  }

  #takeCurrent(atMs: number, currentA: number, currentMaxA: number): void {
    if (currentMaxA > this.peakCurrentA) this.peakCurrentA = currentMaxA;
    if (!Number.isFinite(currentA)) return;
    this.#ramp.push({ atMs, currentA });
    while (this.#ramp.length > MAX_RAMP_SAMPLES || (this.#ramp[1]?.atMs ?? atMs) <= atMs - RAMP_WINDOW_MS)
      this.#ramp.shift();
    const first = this.#ramp[0];
    if (first !== undefined && atMs - first.atMs >= RAMP_WINDOW_MS) {
      const slope = ((currentA - first.currentA) / (atMs - first.atMs)) * 1000;
      if (slope > this.peakRampAPerS) this.peakRampAPerS = slope;
    }
  }

  residual(seen: Observation | null): void {
    const m = seen?.meter?.value;
    this.residualV =
      m === undefined
        ? Number.NaN
        : Math.max(Math.abs(m.plugV), Math.abs(m.plugPositiveV), Math.abs(m.plugNegativeV));
  }

  /** Notes which limit governs; called with session time in seconds. */
  bind(limit: string, atS: number): boolean {
    const last = this.binding.at(-1);
    if (last !== undefined) last.toS = atS;
    if (last?.limit === limit || this.binding.length >= MAX_SPANS) return false;
    this.binding.push({ limit, fromS: atS, toS: atS });
    return true;
  }

  get energyToBatteryKwh(): number {
    return this.#wh.battery / 1000;
  }
  get energyFromSupplyKwh(): number {
    return this.#wh.supply / 1000;
  }
  /** Loss by part, kWh. */
  get lossesKwh(): { readonly converter: number; readonly cableAndContacts: number; readonly train: number } {
    const w = this.#wh;
    return {
      converter: (w.supply - w.output) / 1000,
      cableAndContacts: (w.output - w.train) / 1000,
      train: (w.train - w.battery) / 1000,
    };
  }
}

/** Mean state of charge of the battery rafts that give one. */
export function meanSoc(seen: Observation): number {
  let sum = 0;
  let count = 0;
  for (const r of seen.rafts) {
    const soc = r?.value.soc ?? Number.NaN;
    if (!Number.isFinite(soc)) continue;
    sum += soc;
    count++;
  }
  return count === 0 ? Number.NaN : sum / count;
}
