/**
 * The pilot loop: a sine source through its resistor and the pilot core to a diode at the far end, and back.
 * Shunt leakage lies across the pair at the charger end; a crushed cable bridges the diode.
 *
 * The undisturbed current of one period is computed once for each state of the loop and kept; windows add noise
 * and mains pick-up. A window in which the loop changed is put together from both states, sample by sample. A loop
 * with inductance, capacitance or a leak along the cable is taken from the full circuit (`pilot-circuit.ts`).
 */
import type { Rig } from '../src/rig/schema.js';
import { settledPeriod } from './pilot-circuit.js';
import type { SeededRandom } from './seeded-random.js';

/** Emission coefficient times thermal voltage of the diode, and the current at which its stated drop holds. */
const DIODE_SLOPE_V = 0.05;
const DIODE_STATED_A = 0.01;
const NOISE_A = 8e-6;
const PICKUP_A = 15e-6;
const PICKUP_HZ = 50;

export interface LoopState {
  readonly open: boolean;
  readonly reversed: boolean;
  /** Across the diode; Infinity when sound. */
  readonly crushOhm: number;
  /** Across the pair; Infinity when sound. */
  readonly shuntOhm: number;
  /** Where along the cable the shunt lies: 0 at the charger, 1 at the diode. */
  readonly shuntAt: number;
  readonly coreHenry: number;
  readonly cableFarad: number;
  readonly sourceOn: boolean;
}

export const SOUND_LOOP: LoopState = {
  open: false,
  reversed: false,
  crushOhm: Number.POSITIVE_INFINITY,
  shuntOhm: Number.POSITIVE_INFINITY,
  shuntAt: 0,
  coreHenry: 0,
  cableFarad: 0,
  sourceOn: false,
};

/** A chattering contact stays open or closed between these. Practice, no source. */
const CHATTER_MS = [0.3, 4] as const;
const MAX_CHATTERS = 64;

export interface LoopFeatures {
  readonly meanA: number;
  readonly rmsA: number;
  readonly peakPositiveA: number;
  readonly peakNegativeA: number;
}

type PilotRig = NonNullable<Rig['pilot']>;

/** Current of the diode at a forward voltage, A; diodeDropV 0 stands for an ideal diode. */
function diodeA(voltV: number, dropV: number): number {
  const saturationA = DIODE_STATED_A / Math.expm1(dropV / DIODE_SLOPE_V);
  return saturationA * Math.expm1(Math.min(voltV / DIODE_SLOPE_V, 200));
}

/** Source current for a source voltage, A. */
export function loopCurrentA(sourceV: number, rig: PilotRig, state: LoopState): number {
  if (state.reversed) return -loopCurrentA(-sourceV, rig, { ...state, reversed: false });
  const shuntS = 1 / state.shuntOhm;
  const sourceS = 1 / rig.sourceOhm;
  // What the far branch sees: source and shunt together.
  const openV = (sourceV * sourceS) / (sourceS + shuntS);
  const innerOhm = 1 / (sourceS + shuntS);
  let farA = 0;
  if (!state.open) {
    const seriesOhm = innerOhm + rig.coreOhm;
    farA = farCurrentA(openV, seriesOhm, state.crushOhm, rig.diodeDropV);
  }
  const nearV = openV - farA * innerOhm;
  return (sourceV - nearV) * sourceS;
}

/** Series resistance, then diode and crush resistance in parallel: Newton, kept inside a shrinking bracket. */
function farCurrentA(openV: number, seriesOhm: number, crushOhm: number, dropV: number): number {
  const crushS = crushOhm > 1e-6 ? 1 / crushOhm : 1e6;
  if (dropV <= 0) return openV > 0 ? openV / seriesOhm : openV / (seriesOhm + 1 / crushS);
  let low = Math.min(0, openV);
  let high = Math.max(0, openV);
  let v = Math.min(high, Math.max(low, Math.min(openV, dropV)));
  for (let k = 0; k < 60; k++) {
    const f = (openV - v) / seriesOhm - diodeA(v, dropV) - v * crushS;
    if (f > 0) low = v;
    else high = v;
    const slope = -1 / seriesOhm - (diodeA(v, dropV) + 1e-15) / DIODE_SLOPE_V - crushS;
    let next = v - f / slope;
    if (!(next > low && next < high)) next = 0.5 * (low + high);
    if (Math.abs(next - v) < 1e-9) break;
    v = next;
  }
  return (openV - v) / seriesOhm;
}

interface Segment {
  readonly fromMs: number;
  readonly table: Float64Array;
}

export class PilotLoop {
  readonly #rig: PilotRig;
  readonly #random: SeededRandom;
  readonly #windowMs: number;
  readonly #spacingMs: number;
  readonly #samples: Float64Array;
  #state: LoopState = SOUND_LOOP;
  #sourceDead = false;
  /** States that reach into a window still to be reported, oldest first. */
  #segments: Segment[];
  #window = -1;
  #trueWindow = -1;
  #trueTable: Float64Array | null = null;
  #trueFeatures: LoopFeatures = { meanA: 0, rmsA: 0, peakPositiveA: 0, peakNegativeA: 0 };
  #features: LoopFeatures = { meanA: 0, rmsA: 0, peakPositiveA: 0, peakNegativeA: 0 };

  constructor(rig: PilotRig, random: SeededRandom) {
    this.#rig = rig;
    this.#random = random;
    this.#windowMs = (1000 * rig.periodsPerWindow) / rig.frequencyHz;
    this.#spacingMs = 1000 / rig.frequencyHz / rig.samplesPerPeriod;
    this.#samples = new Float64Array(rig.samplesPerPeriod * rig.periodsPerWindow);
    this.#segments = [{ fromMs: Number.NEGATIVE_INFINITY, table: new Float64Array(rig.samplesPerPeriod) }];
  }

  get state(): LoopState {
    return this.#state;
  }

  get spacingS(): number {
    return this.#spacingMs / 1000;
  }

  change(part: Partial<LoopState>, nowMs: number): void {
    this.#state = { ...this.#state, ...part };
    // A change ends what a bounce had still to come.
    while (this.#segments.length > 1 && this.#segments[this.#segments.length - 1]!.fromMs > nowMs)
      this.#segments.pop();
    this.#segments.push({ fromMs: nowMs, table: this.#period() });
    this.#prune(nowMs);
  }

  /**
   * Fault: the pin bounces. The source sees the loop come and go until it stays closed.
   * @param forMs length of the bounce
   */
  bounce(nowMs: number, forMs: number): void {
    this.change({}, nowMs);
    const closed = this.#period();
    const open = new Float64Array(closed.length);
    let at = nowMs;
    for (let k = 0; k < MAX_CHATTERS && at < nowMs + forMs; k++) {
      this.#segments.push({ fromMs: at, table: k % 2 === 0 ? open : closed });
      at += this.#random.between(CHATTER_MS[0], CHATTER_MS[1]);
    }
    this.#segments.push({ fromMs: Math.max(at, nowMs + forMs), table: closed });
  }

  /** One period of the undisturbed current in the present state. */
  #period(): Float64Array {
    const rig = this.#rig;
    const state = this.#state;
    const n = rig.samplesPerPeriod;
    if (!state.sourceOn || this.#sourceDead) return new Float64Array(n);
    const alongCable = state.shuntAt > 0 && Number.isFinite(state.shuntOhm);
    if (!state.open && (alongCable || state.coreHenry > 0 || state.cableFarad > 0)) {
      return settledPeriod(
        {
          ...rig,
          ...state,
          leakOhm: state.shuntOhm,
          leakAt: state.shuntAt,
          diode: { kind: 'exponential', dropV: rig.diodeDropV, slopeV: DIODE_SLOPE_V },
        },
        n,
      );
    }
    const peakV = Math.SQRT2 * rig.sourceVrms;
    return Float64Array.from({ length: n }, (_, k) =>
      loopCurrentA(peakV * Math.sin((2 * Math.PI * k) / n), rig, state),
    );
  }

  #prune(nowMs: number): void {
    const keepFromMs = nowMs - 2 * this.#windowMs;
    while (this.#segments.length > 2 && this.#segments[1]!.fromMs < keepFromMs) this.#segments.shift();
  }

  /** Fault: the source gives nothing although it is on. */
  setSourceDead(dead: boolean, nowMs: number): void {
    this.#sourceDead = dead;
    this.change({}, nowMs);
  }

  /** Number of the last whole window; it is the sensor's sample counter. */
  windowAt(nowMs: number): number {
    return Math.floor(nowMs / this.#windowMs);
  }

  features(nowMs: number): LoopFeatures {
    const window = this.windowAt(nowMs);
    if (window !== this.#window) {
      this.#window = window;
      this.#sample((window - 1) * this.#windowMs);
      this.#features = featuresOf(this.#samples);
    }
    return this.#features;
  }

  /** The same of the undisturbed current: what a monitor without noise and pick-up would tell. */
  trueFeatures(nowMs: number): LoopFeatures {
    const window = this.windowAt(nowMs);
    if (window === this.#trueWindow) return this.#trueFeatures;
    this.#trueWindow = window;
    const fromMs = (window - 1) * this.#windowMs;
    const n = this.#rig.samplesPerPeriod;
    const tables = Array.from(this.#samples, (_, k) => this.#tableAt(fromMs + k * this.#spacingMs));
    const first = tables[0]!;
    // Nothing changed in it, and nothing since the last: the same features again.
    if (tables.every((table) => table === first) && first === this.#trueTable) return this.#trueFeatures;
    this.#trueTable = tables.every((table) => table === first) ? first : null;
    this.#trueFeatures = featuresOf(Float64Array.from(tables, (table, k) => table[k % n]!));
    return this.#trueFeatures;
  }

  /** What the loop itself is now, between the terminals of the source. */
  get trueFigures(): { readonly seriesOhm: number; readonly shuntOhm: number } {
    return {
      seriesOhm: this.#state.open ? Number.POSITIVE_INFINITY : this.#rig.coreOhm,
      shuntOhm: this.#state.shuntOhm,
    };
  }

  #tableAt(tMs: number): Float64Array {
    let table = this.#segments[0]!.table;
    for (const segment of this.#segments) if (segment.fromMs <= tMs) table = segment.table;
    return table;
  }

  /** The samples behind `features`. */
  samples(nowMs: number): Float64Array {
    this.features(nowMs);
    return this.#samples.slice();
  }

  #sample(fromMs: number): void {
    const n = this.#rig.samplesPerPeriod;
    const random = this.#random;
    const turn = (2 * Math.PI * PICKUP_HZ * this.#spacingMs) / 1000;
    const cosTurn = Math.cos(turn);
    const sinTurn = Math.sin(turn);
    const phase = (2 * Math.PI * PICKUP_HZ * fromMs) / 1000 + 1;
    let s = Math.sin(phase) * PICKUP_A;
    let c = Math.cos(phase) * PICKUP_A;
    let segment = 0;
    for (let k = 0; k < this.#samples.length; k++) {
      const t = fromMs + k * this.#spacingMs;
      while (segment + 1 < this.#segments.length && this.#segments[segment + 1]!.fromMs <= t) segment++;
      // Two uniform draws give a triangular noise of the wanted deviation; a gaussian would cost three times that.
      const noise = (random.unit() + random.unit() - 1) * 2.449 * NOISE_A;
      this.#samples[k] = this.#segments[segment]!.table[k % n]! + noise + s;
      const nextS = s * cosTurn + c * sinTurn;
      c = c * cosTurn - s * sinTurn;
      s = nextS;
    }
  }
}

/** What the monitor reports of a window. */
export function featuresOf(samplesA: Float64Array): LoopFeatures {
  let sum = 0;
  let squares = 0;
  let high = Number.NEGATIVE_INFINITY;
  let low = Number.POSITIVE_INFINITY;
  for (let k = 0; k < samplesA.length; k++) {
    const x = samplesA[k]!;
    sum += x;
    squares += x * x;
    if (x > high) high = x;
    if (x < low) low = x;
  }
  const n = samplesA.length;
  return { meanA: sum / n, rmsA: Math.sqrt(squares / n), peakPositiveA: high, peakNegativeA: low };
}
