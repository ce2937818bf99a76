/**
 * The rectifier: a current source into the output capacitor.
 *
 * Current reference: follows the ordered set-point, never above the authority, rising at the authority's slope
 * and falling at the rig's (emergency slope once disabled). Current loop: first order. Voltage loop: the network
 * says what voltage the next step would bring, and the current loop is given no more than keeps the output on the
 * voltage reference, which slews; a load dump therefore lifts the output by about current × loop time ÷ capacitance.
 * Once disabled it blocks for good as soon as its load is gone. It cannot sink current: diodes.
 */
import { CONVERTER_STATE } from '../src/rig/roles.js';
import type { Rig } from '../src/rig/schema.js';

/** The voltage reference runs at most this far ahead of the output, so a load dump has little room to jump. */
const REFERENCE_LEAD_V = 5;
/** Ripple of a six-pulse bridge, 300 Hz; ten steps of 1 ms are three whole periods, so the mean stays true. */
const RIPPLE = Float64Array.from({ length: 10 }, (_, k) => Math.sin(2 * Math.PI * 0.3 * k));
/** Full load warms the heat sink by this much, with this time constant. */
const HEAT_SINK_RISE_K = 45;
const HEAT_SINK_S = 60;
/** Energy in the internal link of a converter that runs on after its supply is gone: outlasts any bleeder. */
const STUCK_LINK_J = 400_000;
/** An overshoot builds up and dies away with these time constants. */
const OVERSHOOT_RISE_MS = 40;
const OVERSHOOT_FALL_MS = 800;

export class Converter {
  readonly #rig: Rig['converter'];
  readonly #ramp: Rig['ramp'];
  readonly #loopGain: number;
  readonly #rippleShare: number;
  enabled = false;
  /** Set-points up to this need no authority. */
  matchA = 0;
  ceilingA = 0;
  slopeAPerS = 0;
  authorityEndsMs = Number.NEGATIVE_INFINITY;
  orderedA = 0;
  orderedV = 0;
  /** Set-point in force after its own slope. */
  referenceA = 0;
  /** Delivered by the source in the last step; reverse current of a failed rectifier is not in it. */
  sourceA = 0;
  /** Voltage the voltage loop holds at most. */
  referenceV = 0;
  heatSinkC: number;
  readonly #ambientC: number;
  #loopA = 0;
  /** Goes on delivering whatever it is told. */
  stuck = false;
  #linkJ = STUCK_LINK_J;
  #wasSupplied = true;
  /** Diodes blocked by a failed rectifier: delivers nothing. */
  failed = false;
  /** Reports and behaves as faulted. */
  tripped = false;
  /** Percent of the set-point, armed for the end of the ramp; NaN when healthy. */
  overshootPercent = Number.NaN;
  /** Percent of the set-point in force that it does not deliver. */
  shortPercent = 0;
  #overshootSinceMs = Number.NaN;
  #risingAPerS = 0;
  #jumpHoldMs = 0;

  constructor(rig: Rig, ambientC: number) {
    this.#rig = rig.converter;
    this.#ramp = rig.ramp;
    this.#loopGain = 1 - Math.exp(-1 / this.#rig.currentLoopMs);
    this.#rippleShare = this.#rig.ripplePercent / 200; // stated peak to peak
    this.#ambientC = ambientC;
    this.heatSinkC = ambientC;
  }

  enable(matchA: number, outputV: number): void {
    if (!this.enabled) {
      this.referenceV = Math.max(0, outputV);
      this.orderedA = 0;
    }
    this.matchA = Math.min(matchA, this.#rig.maxCurrentA);
    this.enabled = true;
  }

  disable(): void {
    // While the voltage loop held it, the current was below its set-point: it goes down from where it is.
    if (this.enabled && !this.stuck) this.referenceA = Math.min(this.referenceA, this.#loopA);
    this.enabled = false;
    this.ceilingA = 0;
    this.matchA = 0;
  }

  setAuthority(ceilingA: number, slopeAPerS: number, lifeMs: number, nowMs: number): void {
    this.ceilingA = Math.min(ceilingA, this.#rig.maxCurrentA);
    this.slopeAPerS = slopeAPerS;
    this.authorityEndsMs = nowMs + lifeMs;
  }

  setPoint(currentA: number, voltageV: number): void {
    if (this.stuck) return;
    this.orderedA = Math.max(0, currentA);
    this.orderedV = Math.min(Math.max(0, voltageV), this.#rig.maxVoltageV);
  }

  /** Fault: the set-point in force jumps, ignoring the slope; a blocked bridge delivers nothing all the same. */
  jump(stepA: number, nowMs: number): void {
    if (!this.enabled) return;
    this.referenceA += stepA;
    this.#jumpHoldMs = nowMs + 3000;
  }

  /**
   * One step of 1 ms. `openV` is the output voltage the step would end on without this source, `liftOhm` what
   * each ampere adds. Returns the current delivered.
   */
  step(nowMs: number, outputV: number, openV: number, liftOhm: number, supplied: boolean): number {
    this.#wasSupplied = supplied;
    this.#slew(nowMs);
    let wantedA = this.referenceA * (1 - this.shortPercent / 100);
    if (!Number.isNaN(this.overshootPercent)) wantedA += this.#overshootA(nowMs);
    const powered = (supplied || (this.stuck && this.#linkJ > 0)) && !this.failed && !this.tripped;
    if (!powered) wantedA = 0;
    this.#slewVoltage(outputV);
    const voltageA = Math.max(0, (this.referenceV - openV) / liftOhm);
    const powerA = outputV > 1 ? this.#rig.maxPowerW / outputV : wantedA;
    if (!this.enabled && !this.stuck && voltageA < 0.5 * this.#loopA) this.referenceA = 0;
    // Without its supply the link feeds the output for a moment only: the current collapses within steps.
    const gain = powered ? this.#loopGain : Math.max(0.5, this.#loopGain);
    this.#loopA += (Math.min(wantedA, voltageA, powerA) - this.#loopA) * gain;
    let deliveredA = this.#loopA * (1 + this.#rippleShare * RIPPLE[nowMs % 10]!);
    if (deliveredA < 1e-4) deliveredA = 0;
    this.sourceA = deliveredA;
    return deliveredA;
  }

  #slew(nowMs: number): void {
    if (this.stuck) return;
    const authorised = this.enabled && nowMs <= this.authorityEndsMs && this.ceilingA > 0;
    const allowedA = !this.enabled ? 0 : authorised ? Math.max(this.ceilingA, this.matchA) : this.matchA;
    const targetA = Math.min(this.orderedA, allowedA);
    const before = this.referenceA;
    const upAPerS = authorised ? this.slopeAPerS : this.#ramp.upAPerS;
    if (before < targetA) {
      this.referenceA = Math.min(targetA, before + upAPerS * 1e-3);
    } else if (before > targetA && (nowMs >= this.#jumpHoldMs || targetA === 0)) {
      const downAPerS = this.enabled ? this.#ramp.downAPerS : this.#ramp.emergencyDownAPerS;
      this.referenceA = Math.max(targetA, before - downAPerS * 1e-3);
    }
    this.#risingAPerS += ((this.referenceA - before) * 1000 - this.#risingAPerS) * 0.02;
  }

  #slewVoltage(outputV: number): void {
    // Once disabled it never rises again.
    if (!this.enabled && !this.stuck) return;
    const slopeV = this.#rig.voltageSlopeVPerS * 1e-3;
    this.referenceV = Math.min(this.orderedV, this.referenceV + slopeV, outputV + REFERENCE_LEAD_V);
  }

  /** Begins once the ramp ends: close under the ceiling, or when the set-point has stopped rising high up. */
  #overshootA(nowMs: number): number {
    if (Number.isNaN(this.#overshootSinceMs)) {
      const high = this.referenceA > 0.5 * this.ceilingA && this.ceilingA > 2 * this.#rig.matchCurrentA;
      const ended = this.referenceA > 0.985 * this.ceilingA || this.#risingAPerS < 0.3 * this.slopeAPerS;
      if (!(high && ended)) return 0;
      this.#overshootSinceMs = nowMs;
    }
    const t = nowMs - this.#overshootSinceMs;
    const shape = (1 - Math.exp(-t / OVERSHOOT_RISE_MS)) * Math.exp(-t / OVERSHOOT_FALL_MS);
    return (this.overshootPercent / 100) * this.referenceA * shape * 1.22; // peak of the shape is 0.82
  }

  /** Power taken from the supply for this output, W; a stuck converter without supply empties its link. */
  lossW(currentA: number): number {
    return this.#rig.lossVoltsPerA * Math.abs(currentA);
  }

  noLoadW(): number {
    return this.enabled || this.stuck ? this.#rig.noLoadLossW : 0;
  }

  /** Slow part, every 10 ms. */
  warm(stepS: number, outputW: number, lossW: number): void {
    if (this.stuck && !this.#wasSupplied) this.#linkJ = Math.max(0, this.#linkJ - (outputW + lossW) * stepS);
    const fullW = this.#rig.noLoadLossW + this.#rig.lossVoltsPerA * this.#rig.maxCurrentA;
    const target = this.#ambientC + (HEAT_SINK_RISE_K * lossW) / Math.max(1, fullW);
    this.heatSinkC += ((target - this.heatSinkC) * stepS) / HEAT_SINK_S;
  }

  get state(): number {
    if (this.stuck && this.#linkJ > 0) return CONVERTER_STATE.delivering;
    if (this.tripped || this.failed) return CONVERTER_STATE.fault;
    if (this.sourceA > 0.5) return CONVERTER_STATE.delivering;
    if (!this.enabled) return CONVERTER_STATE.off;
    if (!this.#wasSupplied) return CONVERTER_STATE.fault;
    return this.referenceA > 0 ? CONVERTER_STATE.delivering : CONVERTER_STATE.ready;
  }
}
