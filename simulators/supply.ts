/**
 * What stands behind the rectifier: an engine-driven set, a battery store, or a feed from the line.
 *
 * The set: one rotating mass, a droop governor of first order with a lead chosen for good damping, a fuel rack
 * that follows only so fast (load acceptance), and a voltage regulator that dips on load steps and gives way with
 * low speed. Speeds and powers are per unit of nominal frequency and rated power.
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

export class Supply {
  readonly #rig: Rig['supply'];
  readonly #droop: number;
  readonly #inertiaS: number;
  readonly #governorS: number;
  readonly #leadS: number;
  speed: number;
  mechanical = 0;
  #slowLoad = 0;
  #storeSoc = STORE_START_SOC;
  #voltageV: number;
  powerW = 0;
  breakerClosed = true;
  breakerDueMs = Number.POSITIVE_INFINITY;
  /** Fault: does not become ready. */
  notReady = false;
  /** Fault: frequency and voltage fall to 1 − this share. */
  sagShare = 0;
  #sag = 0;

  constructor(rig: Rig) {
    this.#rig = rig.supply;
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

  #drain(stepS: number): void {
    const ohm = this.#rig.internalOhm ?? 0;
    const emfV = this.#rig.nominalVoltageV * (0.96 + 0.05 * this.#storeSoc);
    const root = emfV * emfV - 4 * ohm * this.powerW;
    const amps = ohm > 0 ? (emfV - Math.sqrt(Math.max(0, root))) / (2 * ohm) : this.powerW / emfV;
    this.#voltageV = emfV - amps * ohm;
    const kwh = this.#rig.capacityKwh ?? 200;
    this.#storeSoc = Math.max(0, this.#storeSoc - (emfV * amps * stepS) / 3.6e6 / kwh);
  }
}
