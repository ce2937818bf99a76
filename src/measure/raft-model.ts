/**
 * The estimator's own cell model, written so that volts are linear in almost everything unknown:
 *
 *     V = U(s) + Σ d_k φ_k(s) + Σ h_k H_k + I·w0·Σ r0_k φ_k(s) + Σ r1_k X1_k + Σ r2_k X2_k + D·Z
 *
 * s: state of charge by counting; φ: hat functions on a few points of it; U: open-circuit volts known beforehand
 * (nought where none were measured); d: correction of U; H: hysteresis, which follows the sign of the current over
 * `hysteresisShare` of the capacity; X1, X2: responses of the two R-C pairs to w·I·φ(s); Z: volts by which the
 * particles' surface leads their mean while lithium diffuses, in its shape given by the slope of the open-circuit
 * volts; w: Arrhenius factors of the logged temperature. Unknown beyond that are only the two time constants.
 */
import { type ChargeRecord, fromA, largestA } from './charge-record.js';

/** Points of the state of charge that carry the parameters; denser where cells change fast. */
export const RESISTANCE_KNOTS = [0, 0.03, 0.07, 0.12, 0.2, 0.3, 0.45, 0.6, 0.75, 0.85, 0.93, 1] as const;
export const OCV_KNOTS = [
  0, 0.01, 0.02, 0.03, 0.045, 0.06, 0.08, 0.1, 0.125, 0.15, 0.175, 0.2, 0.225, 0.25, 0.275, 0.3, 0.325, 0.35,
  0.375, 0.4, 0.425, 0.45, 0.475, 0.5, 0.525, 0.55, 0.575, 0.6, 0.625, 0.65, 0.675, 0.7, 0.725, 0.75, 0.775,
  0.8, 0.825, 0.85, 0.875, 0.9, 0.92, 0.94, 0.955, 0.97, 0.98, 0.99, 1,
] as const;
export const HYSTERESIS_KNOTS = [0, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1] as const;

/** Activation energies where no recording tells them: typical of lithium cells, J/mol. */
export interface Activation {
  readonly r0: number;
  readonly r1: number;
  readonly r2: number;
}
export const TYPICAL_ACTIVATION: Activation = { r0: 10_000, r1: 20_000, r2: 25_000 };
const GAS_CONSTANT = 8.314462618;
const ZERO_K = 273.15;

/** What is not linear in the volts. */
export interface Shape {
  readonly tau1S: number;
  readonly tau2S: number;
  readonly hysteresisShare: number;
  readonly activation: Activation;
  readonly referenceC: number;
  readonly capacityAh: number;
  /** Open-circuit volts known beforehand; nought everywhere when none are. */
  readonly knownV: (soc: number) => number;
  /** Slope of the open-circuit volts, V per unit of charge, for the diffusion term. */
  readonly slopeV: (soc: number) => number;
}

/** Where each block of parameters begins. */
export const LAYOUT = (() => {
  const ocv = 0;
  const hysteresis = ocv + OCV_KNOTS.length;
  const r0 = hysteresis + HYSTERESIS_KNOTS.length;
  const r1 = r0 + RESISTANCE_KNOTS.length;
  const r2 = r1 + RESISTANCE_KNOTS.length;
  const diffusion = r2 + RESISTANCE_KNOTS.length;
  return { ocv, hysteresis, r0, r1, r2, diffusion, size: diffusion + 1 };
})();

/** Interval of the knots a value lies in, and how far along; clamped at the ends. */
export function place(knots: readonly number[], x: number): { readonly i: number; readonly share: number } {
  let i = 0;
  while (i + 2 < knots.length && knots[i + 1]! <= x) i++;
  const share = (x - knots[i]!) / (knots[i + 1]! - knots[i]!);
  return { i, share: Math.min(1, Math.max(0, share)) };
}

/** Value of a curve given at knots, straight between them. */
export function along(knots: readonly number[], values: ArrayLike<number>, x: number, from = 0): number {
  const { i, share } = place(knots, x);
  return values[from + i]! * (1 - share) + values[from + i + 1]! * share;
}

export const arrhenius = (joulePerMol: number, cellC: number, referenceC: number): number =>
  Math.exp((joulePerMol / GAS_CONSTANT) * (1 / (cellC + ZERO_K) - 1 / (referenceC + ZERO_K)));

/** The states of one cell on its way through a current. */
export class Walker {
  readonly #shape: Shape;
  soc: number;
  /** The terms of the volts at the present instant, but for the part that goes with the present current. */
  readonly #states = new Float64Array(LAYOUT.size);

  /** At rest, and as it comes from charging when it is more than half full, else from discharging. */
  constructor(shape: Shape, soc: number) {
    this.#shape = shape;
    this.soc = soc;
    const sign = soc > 0.5 ? 1 : -1;
    const { i, share } = place(HYSTERESIS_KNOTS, soc);
    this.#states[LAYOUT.hysteresis + i] = sign * (1 - share);
    this.#states[LAYOUT.hysteresis + i + 1] = sign * share;
  }

  clone(): Walker {
    const other = new Walker(this.#shape, this.soc);
    other.#states.set(this.#states);
    return other;
  }

  /** Over an interval in which the current runs straight from one value to another. Exact for the R-C pairs. */
  step(stepS: number, firstA: number, lastA: number, cellC: number): void {
    if (!(stepS > 0)) return;
    const shape = this.#shape;
    const x = this.#states;
    const meanA = (firstA + lastA) / 2;
    const middle = this.soc + (meanA * stepS) / 7200 / shape.capacityAh;
    this.soc += (meanA * stepS) / 3600 / shape.capacityAh;
    const w1 = arrhenius(shape.activation.r1, cellC, shape.referenceC);
    const w2 = arrhenius(shape.activation.r2, cellC, shape.referenceC);
    const at = place(RESISTANCE_KNOTS, middle);
    // Diffusion slows in the cold with its resistance; its capacitance does not change.
    this.#pair(LAYOUT.r1, at, stepS, firstA * w1, lastA * w1, shape.tau1S);
    this.#pair(LAYOUT.r2, at, stepS, firstA * w2, lastA * w2, shape.tau2S * w2);
    const slope = shape.slopeV(middle) / (3600 * shape.capacityAh);
    this.#relax(
      LAYOUT.diffusion,
      stepS,
      firstA * slope * w2 * shape.tau2S,
      lastA * slope * w2 * shape.tau2S,
      shape.tau2S * w2,
    );
    const moved = Math.abs(meanA * stepS) / 3600 / shape.capacityAh;
    if (moved > 0) {
      const kept = Math.exp(-moved / shape.hysteresisShare);
      const h = place(HYSTERESIS_KNOTS, middle);
      const sign = Math.sign(meanA) * (1 - kept);
      for (let k = 0; k < HYSTERESIS_KNOTS.length; k++) x[LAYOUT.hysteresis + k]! *= kept;
      x[LAYOUT.hysteresis + h.i]! += sign * (1 - h.share);
      x[LAYOUT.hysteresis + h.i + 1]! += sign * h.share;
    }
  }

  #pair(
    from: number,
    at: { i: number; share: number },
    stepS: number,
    firstA: number,
    lastA: number,
    tauS: number,
  ): void {
    const x = this.#states;
    const kept = Math.exp(-stepS / tauS);
    for (let k = 0; k < RESISTANCE_KNOTS.length; k++) x[from + k]! *= kept;
    const added = answer(stepS, firstA, lastA, tauS, kept);
    x[from + at.i]! += added * (1 - at.share);
    x[from + at.i + 1]! += added * at.share;
  }

  #relax(index: number, stepS: number, first: number, last: number, tauS: number): void {
    const kept = Math.exp(-stepS / tauS);
    this.#states[index] = this.#states[index]! * kept + answer(stepS, first, last, tauS, kept);
  }

  /** Writes the row of the volts into `row`; volts = knownV + row · parameters. */
  row(row: Float64Array, currentA: number, cellC: number): void {
    const shape = this.#shape;
    row.set(this.#states);
    const o = place(OCV_KNOTS, this.soc);
    row[LAYOUT.ocv + o.i]! += 1 - o.share;
    row[LAYOUT.ocv + o.i + 1]! += o.share;
    const r = place(RESISTANCE_KNOTS, this.soc);
    const a = currentA * arrhenius(shape.activation.r0, cellC, shape.referenceC);
    row[LAYOUT.r0 + r.i]! += a * (1 - r.share);
    row[LAYOUT.r0 + r.i + 1]! += a * r.share;
  }

  knownV(): number {
    return this.#shape.knownV(this.soc);
  }
}

/** Answer of τ·x' = u − x from x = 0 to a u that runs straight. */
function answer(stepS: number, first: number, last: number, tauS: number, kept: number): number {
  const perStep = (last - first) * (tauS / stepS);
  return last - perStep - (first - perStep) * kept;
}

/** Calls `see` at every row with the walker there. */
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
