/**
 * The estimator's own cell model, written so that volts are linear in almost everything unknown:
 *
 *     V = U(z) + U'(z)·(shift + stretch·s) + Σ d_k φ_k(z) + Σ h_k H_k + I·w0·Σ r0_k φ_k(s) + Σ r1_k X1_k + Σ r2_k X2_k
 *     z = s + lead·Z
 *
 * s: state of charge by counting; z: that of the particles' surface, which leads while lithium diffuses; φ: hat
 * functions on a few points; U: open-circuit volts known beforehand, nought when none are; shift and stretch: of the
 * axis of that table against the counting; d: correction of U; H: hysteresis, which follows the sign of the current
 * over a small share of the capacity; X1, X2: responses of the two R-C pairs to w·I·φ(s); Z: response of the
 * diffusion to the charge; w: factors of the cell's temperature (raft-activation.ts). Not linear are only the two time
 * constants, the three activation energies, and `lead`, about which the volts are linearised: its column is the change
 * of the volts with it.
 */
import { type ChargeRecord, fromA, largestA } from './charge-record.js';
import { type Activation, factorAt } from './raft-activation.js';

/** Points of the state of charge that carry the resistances; denser where cells change fast. */
export const RESISTANCE_KNOTS: readonly number[] = [
  0, 0.03, 0.07, 0.12, 0.2, 0.3, 0.45, 0.6, 0.75, 0.85, 0.93, 1,
];
export const HYSTERESIS_KNOTS: readonly number[] = [0, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1];
/** Of the open-circuit volts when none were measured. */
export const OCV_KNOTS: readonly number[] = [
  0, 0.01, 0.02, 0.03, 0.045, 0.06, 0.08, 0.1, 0.125, 0.15, 0.175, 0.2, 0.225, 0.25, 0.275, 0.3, 0.325, 0.35,
  0.375, 0.4, 0.425, 0.45, 0.475, 0.5, 0.525, 0.55, 0.575, 0.6, 0.625, 0.65, 0.675, 0.7, 0.725, 0.75, 0.775,
  0.8, 0.825, 0.85, 0.875, 0.9, 0.92, 0.94, 0.955, 0.97, 0.98, 0.99, 1,
];
/** Of their correction when they were measured in many points. */
export const CORRECTION_KNOTS: readonly number[] = [
  0, 0.03, 0.07, 0.12, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.96, 1,
];
/** Share of the capacity over which hysteresis turns round. */
const HYSTERESIS_SHARE = 0.05;

/** Where each block of parameters begins. */
export interface Layout {
  readonly ocv: number;
  readonly shift: number;
  readonly stretch: number;
  readonly hysteresis: number;
  readonly r0: number;
  readonly r1: number;
  readonly r2: number;
  readonly lead: number;
  /** Where each recording but the first begins, against what was believed of it. */
  readonly offsets: number;
  readonly size: number;
}

/** @param recordings that are fitted together */
export function layoutOf(ocvKnots: readonly number[], recordings: number): Layout {
  const shift = ocvKnots.length;
  const hysteresis = shift + 2;
  const r0 = hysteresis + HYSTERESIS_KNOTS.length;
  const r1 = r0 + RESISTANCE_KNOTS.length;
  const r2 = r1 + RESISTANCE_KNOTS.length;
  const lead = r2 + RESISTANCE_KNOTS.length;
  const offsets = lead + 1;
  const size = offsets + recordings - 1;
  return { ocv: 0, shift, stretch: shift + 1, hysteresis, r0, r1, r2, lead, offsets, size };
}

/** What is not linear in the volts. */
export interface Shape {
  readonly tau1S: number;
  readonly tau2S: number;
  readonly activation: Activation;
  readonly capacityAh: number;
  /** Open-circuit volts known beforehand, and their slope in V per unit of charge. */
  readonly knownV: (soc: number) => number;
  readonly slopeV: (soc: number) => number;
  readonly ocvKnots: readonly number[];
  /** The surface's lead about which the volts are linearised. */
  readonly lead: number;
  readonly layout: Layout;
}

interface Place {
  readonly i: number;
  readonly share: number;
}

/** Interval of the knots a value lies in, and how far along; clamped at the ends. */
export function place(knots: readonly number[], x: number): Place {
  let i = 0;
  while (i + 2 < knots.length && knots[i + 1]! <= x) i++;
  const share = (x - knots[i]!) / (knots[i + 1]! - knots[i]!);
  return { i, share: Math.min(1, Math.max(0, share)) };
}

/** Value of a curve given at knots, straight between them and level beyond; `from` is the first one's index. */
export function along(knots: readonly number[], values: ArrayLike<number>, x: number, from = 0): number {
  const { i, share } = place(knots, x);
  return values[from + i]! * (1 - share) + values[from + i + 1]! * share;
}

/** One cell on its way through a current. */
export class Walker {
  readonly #shape: Shape;
  readonly #layout: Layout;
  /** The terms of the volts at the present instant, but for those that go with the present current and charge. */
  readonly #states: Float64Array;
  soc: number;
  /** Of the surface over the mean, per unit of lead. */
  #z = 0;

  /** At rest, and as it comes from charging when it is more than half full, else from discharging. */
  constructor(shape: Shape, soc: number) {
    this.#shape = shape;
    this.#layout = shape.layout;
    this.#states = new Float64Array(shape.layout.size);
    this.soc = soc;
    this.#put(this.#layout.hysteresis, place(HYSTERESIS_KNOTS, soc), soc > 0.5 ? 1 : -1);
  }

  clone(): Walker {
    const other = new Walker(this.#shape, this.soc);
    other.#states.set(this.#states);
    other.#z = this.#z;
    return other;
  }

  /** Over an interval in which the current runs straight from one value to another. Exact for the R-C pairs. */
  step(stepS: number, firstA: number, lastA: number, cellC: number): void {
    if (!(stepS > 0)) return;
    const { capacityAh, tau1S, tau2S, activation } = this.#shape;
    const movedAh = ((firstA + lastA) / 2) * (stepS / 3600);
    const middle = this.soc + movedAh / 2 / capacityAh;
    this.soc += movedAh / capacityAh;
    const w1 = factorAt(activation, 'r1', cellC);
    const w2 = factorAt(activation, 'r2', cellC);
    const at = place(RESISTANCE_KNOTS, middle);
    // Cold slows diffusion, so its time grows with its resistance; the fast pair's capacitance shrinks in the cold.
    const slowS = tau2S * w2;
    this.#relax(this.#layout.r1, RESISTANCE_KNOTS.length, Math.exp(-stepS / tau1S));
    this.#put(this.#layout.r1, at, answer(stepS, firstA * w1, lastA * w1, tau1S));
    const keptSlow = Math.exp(-stepS / slowS);
    this.#relax(this.#layout.r2, RESISTANCE_KNOTS.length, keptSlow);
    this.#put(this.#layout.r2, at, answer(stepS, firstA * w2, lastA * w2, slowS));
    const socPerA = slowS / (3600 * capacityAh);
    this.#z = this.#z * keptSlow + answer(stepS, firstA * socPerA, lastA * socPerA, slowS);
    const kept = Math.exp(-Math.abs(movedAh) / capacityAh / HYSTERESIS_SHARE);
    this.#relax(this.#layout.hysteresis, HYSTERESIS_KNOTS.length, kept);
    this.#put(this.#layout.hysteresis, place(HYSTERESIS_KNOTS, middle), Math.sign(movedAh) * (1 - kept));
  }

  /** Writes the row of the present volts: volts = knownV + row · parameters. */
  row(row: Float64Array, currentA: number, cellC: number): void {
    row.set(this.#states);
    const surface = this.surface();
    const slope = this.#shape.slopeV(surface);
    const { shift, stretch, lead, ocv, r0 } = this.#layout;
    const atOcv = place(this.#shape.ocvKnots, surface);
    row[ocv + atOcv.i] = 1 - atOcv.share;
    row[ocv + atOcv.i + 1] = atOcv.share;
    row[shift] = slope;
    row[stretch] = slope * this.soc;
    row[lead] = slope * this.#z;
    const at = place(RESISTANCE_KNOTS, this.soc);
    const drivenA = currentA * factorAt(this.#shape.activation, 'r0', cellC);
    row[r0 + at.i] = drivenA * (1 - at.share);
    row[r0 + at.i + 1] = drivenA * at.share;
  }

  surface(): number {
    return this.soc + this.#shape.lead * this.#z;
  }

  knownV(): number {
    return this.#shape.knownV(this.surface());
  }

  #relax(from: number, count: number, kept: number): void {
    for (let k = from; k < from + count; k++) this.#states[k]! *= kept;
  }

  #put(from: number, { i, share }: Place, amount: number): void {
    this.#states[from + i]! += amount * (1 - share);
    this.#states[from + i + 1]! += amount * share;
  }
}

/** Answer of τ·x' = u − x from x = 0 to a u that runs straight. */
function answer(stepS: number, first: number, last: number, tauS: number): number {
  const perStep = (last - first) * (tauS / stepS);
  return last - perStep - (first - perStep) * Math.exp(-stepS / tauS);
}

/** Takes a walker along a record and calls `see` at every row. */
export function walk(
  record: ChargeRecord,
  walker: Walker,
  cellC: number,
  see: (k: number, currentA: number, rowC: number) => void,
): void {
  const largest = largestA(record);
  for (let k = 0; k < record.timeS.length; k++) {
    const rowC = record.cellC?.[k] ?? cellC;
    if (k > 0) {
      const stepS = record.timeS[k]! - record.timeS[k - 1]!;
      walker.step(stepS, fromA(record, k, largest), record.currentA[k]!, rowC);
    }
    see(k, record.currentA[k]!, rowC);
  }
}
