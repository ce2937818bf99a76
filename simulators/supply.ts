/**
 * What stands behind the rectifier: an engine-driven set, a battery store, or a feed from the line.
 *
 * The set: one rotating mass, a droop governor of first order with a lead chosen for good damping, a fuel rack
 * that follows only so fast (load acceptance), and a voltage regulator that dips on load steps and gives way with
 * low speed. Speeds and powers are per unit of nominal frequency and rated power. It burns fuel along a straight
 * line from idling to full load; without fuel, or below its under-speed trip, it opens its breaker and runs down.
 *
 * The store: an e.m.f. that rises with its charge, behind a resistance. A slow feed from the line and, where the rig
 * gives one, a profile of sun or wind over the day fill it up while the converter empties it fast.
 */
import type { Rig } from '../src/rig/schema.js';

/** The rack follows this many times the slope the rig states as free of dips. */
const ACCEPTANCE_FACTOR = 3;
const REGULATOR_S = 0.6;
const DIP_PER_LOAD = 0.25;
const BREAKER_MS = 60;
const FEED_SAG_SHARE = 0.02;
const SAG_S = 0.4;
const STORE_START_SOC = 0.8;
/** Of the store's full charge above which the feeds give way. */
const STORE_FULL_SOC = 1;
/** A set without fuel runs down in some seconds. */
const NO_FUEL_S = 4;
/** Under-speed must last this long to trip: a load step passes. */
const UNDER_SPEED_S = 0.2;

/** `undefined` stands for what the rig gives. */
export interface SupplyStart {
  /** Of the store. */
  readonly soc?: number | undefined;
  readonly fuelL?: number | undefined;
  /** Hour of the day, for the renewable profile. */
  readonly hour?: number | undefined;
}

export class Supply {
  readonly #rig: Rig['supply'];
  readonly #droop: number;
  readonly #inertiaS: number;
  readonly #governorS: number;
  readonly #leadS: number;
  speed: number;
  mechanical = 0;
  #slowLoad = 0;
  storeSoc: number;
  /** Infinity where the rig gives no tank. */
  fuelL: number;
  /** What the feeds of a store add now. */
  feedW = 0;
  #hour: number;
  #underSpeedS = 0;
  #voltageV: number;
  powerW = 0;
  breakerClosed = true;
  breakerDueMs = Number.POSITIVE_INFINITY;
  /** Fault: does not become ready. */
  notReady = false;
  /** Fault: frequency and voltage fall to 1 − this share. */
  sagShare = 0;
  #sag = 0;

  constructor(rig: Rig, start: SupplyStart = {}) {
    this.#rig = rig.supply;
    this.storeSoc = start.soc ?? STORE_START_SOC;
    this.fuelL = start.fuelL ?? this.#rig.fuel?.tankL ?? Number.POSITIVE_INFINITY;
    this.#hour = start.hour ?? 12;
    this.#droop = Math.max(0.005, (this.#rig.droopPercent ?? 4) / 100);
    this.#inertiaS = this.#rig.inertiaS ?? 1;
    this.#governorS = this.#rig.governorS ?? 0.3;
    // Damping 0.7 of the speed loop 2HT s² + (2H + lead/droop) s + 1/droop.
    const wanted = 1.4 * Math.sqrt((2 * this.#inertiaS * this.#governorS) / this.#droop) - 2 * this.#inertiaS;
    this.#leadS = Math.max(0, wanted * this.#droop);
    this.speed = this.#rig.kind === 'engine-set' ? 1 + this.#droop : 1;
    this.#voltageV = this.#rig.nominalVoltageV;
  }

  trip(nowMs: number): void {
    if (this.breakerClosed && this.breakerDueMs === Number.POSITIVE_INFINITY)
      this.breakerDueMs = nowMs + BREAKER_MS;
  }

  settle(nowMs: number): void {
    if (nowMs < this.breakerDueMs) return;
    this.breakerDueMs = Number.POSITIVE_INFINITY;
    this.breakerClosed = false;
  }

  /** By hand, on site. */
  close(): void {
    this.breakerDueMs = Number.POSITIVE_INFINITY;
    this.breakerClosed = true;
  }

  get ready(): boolean {
    return !this.notReady && this.breakerClosed && this.speed > 0.8;
  }

  /** NaN on a store: there is none. */
  frequencyHz(): number {
    if (this.#rig.kind === 'store') return Number.NaN;
    return (this.#rig.nominalFrequencyHz ?? 50) * this.speed * (1 - this.#sag);
  }

  voltageV(): number {
    return this.#voltageV * (1 - this.#sag);
  }

  /** Slow part: `powerW` is the mean power drawn over the step. */
  step(stepS: number, powerW: number): void {
    this.powerW = this.breakerClosed ? powerW : 0;
    this.#sag += ((this.sagShare - this.#sag) * stepS) / SAG_S;
    const load = this.powerW / this.#rig.maxPowerW;
    if (this.#rig.kind === 'engine-set') this.#turn(stepS, load);
    else if (this.#rig.kind === 'store') this.#drain(stepS);
    else this.#voltageV = this.#rig.nominalVoltageV * (1 - FEED_SAG_SHARE * load);
  }

  #turn(stepS: number, load: number): void {
    this.#burn(stepS, load);
    this.#watchSpeed(stepS);
    if (this.fuelL <= 0) {
      this.mechanical = 0;
      this.speed = Math.max(0, this.speed * Math.exp(-stepS / NO_FUEL_S));
      this.#voltageV = this.#rig.nominalVoltageV * Math.min(1, this.speed / 0.95);
      return;
    }
    const acceleration = (this.mechanical - load) / (2 * this.#inertiaS * Math.max(0.3, this.speed));
    // No-load speed is the droop above nominal, so full load runs at nominal.
    const error = 1 + this.#droop - this.speed - this.#leadS * acceleration;
    const rack = Math.min(1.1, Math.max(-0.03, error / this.#droop));
    const most = ((ACCEPTANCE_FACTOR * this.#rig.slopeKwPerS * 1000) / this.#rig.maxPowerW) * stepS;
    const step = ((rack - this.mechanical) * stepS) / this.#governorS;
    this.mechanical += Math.min(most, Math.max(-3 * stepS, step));
    this.speed = Math.max(0.3, this.speed + acceleration * stepS);
    this.#slowLoad += ((load - this.#slowLoad) * stepS) / REGULATOR_S;
    const dip = DIP_PER_LOAD * (load - this.#slowLoad);
    const perHertz = this.speed < 0.95 ? this.speed / 0.95 : 1;
    this.#voltageV = this.#rig.nominalVoltageV * (1 - dip) * perHertz;
  }

  #burn(stepS: number, load: number): void {
    const fuel = this.#rig.fuel;
    if (fuel === undefined) return;
    const perH = fuel.idleLPerH + (fuel.fullLPerH - fuel.idleLPerH) * Math.max(0, load);
    this.fuelL = Math.max(0, this.fuelL - (perH * stepS) / 3600);
    if (this.fuelL === 0) this.breakerClosed = false;
  }

  #watchSpeed(stepS: number): void {
    const limitHz = this.#rig.underSpeedTripHz;
    if (limitHz === undefined) return;
    this.#underSpeedS = this.frequencyHz() < limitHz ? this.#underSpeedS + stepS : 0;
    if (this.#underSpeedS >= UNDER_SPEED_S) this.breakerClosed = false;
  }

  /** Line and renewable, as far as the store still takes any. */
  #feed(stepS: number): number {
    this.#hour = (this.#hour + stepS / 3600) % 24;
    if (this.storeSoc >= STORE_FULL_SOC) return 0;
    return (this.#rig.gridFeedW ?? 0) + renewableW(this.#rig.renewable ?? [], this.#hour);
  }

  #drain(stepS: number): void {
    this.feedW = this.#feed(stepS);
    const ohm = this.#rig.internalOhm ?? 0;
    const emfV = this.#rig.nominalVoltageV * (0.96 + 0.05 * this.storeSoc);
    // What the feeds bring in does not pass the store. Charging, the current is negative and the root larger.
    const netW = this.powerW - this.feedW;
    const root = emfV * emfV - 4 * ohm * netW;
    const amps = ohm > 0 ? (emfV - Math.sqrt(Math.max(0, root))) / (2 * ohm) : netW / emfV;
    this.#voltageV = emfV - amps * ohm;
    const kwh = this.#rig.capacityKwh ?? 200;
    const soc = this.storeSoc - (emfV * amps * stepS) / 3.6e6 / kwh;
    this.storeSoc = Math.min(STORE_FULL_SOC, Math.max(0, soc));
  }
}

/** Straight between the hours of a profile, level beyond its ends. */
function renewableW(
  profile: readonly { readonly hour: number; readonly powerW: number }[],
  hour: number,
): number {
  const after = profile.findIndex((p) => p.hour > hour);
  if (after === -1) return profile.at(-1)?.powerW ?? 0;
  const high = profile[after]!;
  const low = profile[after - 1];
  if (low === undefined) return high.powerW;
  return low.powerW + ((high.powerW - low.powerW) * (hour - low.hour)) / (high.hour - low.hour);
}
