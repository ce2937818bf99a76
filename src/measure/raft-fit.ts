/** Fit of the estimator's cell model (raft-model.ts) to one recording. Pure. */
import { type ChargeRecord, countedAh, largestA } from './charge-record.js';
import { NormalEquations, type Solution } from './normal-equations.js';
import {
  along,
  HYSTERESIS_KNOTS,
  LAYOUT,
  OCV_KNOTS,
  RESISTANCE_KNOTS,
  type Shape,
  TYPICAL_ACTIVATION,
  Walker,
  walk,
} from './raft-model.js';

export interface OcvPoint {
  readonly soc: number;
  readonly v: number;
}

export interface FitOptions {
  readonly capacityAh?: number;
  readonly socStart?: number;
  readonly ocv?: readonly OcvPoint[];
  /** Where the recording has no temperature. */
  readonly cellC?: number;
  readonly tune?: any;
}

export function knownCurve(points: readonly OcvPoint[]): (soc: number) => number {
  const sorted = [...points].sort((a, b) => a.soc - b.soc);
  const x = sorted.map((p) => p.soc);
  const v = sorted.map((p) => p.v);
  return (soc) => along(x, v, soc);
}

export const T = {
  misfit: 0.006,
  ocvKnown: 0.01,
  ocvCurv: 0.01,
  hyst: 0.006,
  hystLow: 0.02,
  rSmooth: 0.3,
  rSpread: 0.5,
  hs: 0.02,
  diff: 1,
  gridded: 1,
};

export interface Fit {
  shape: Shape;
  solution: Solution;
  rms: number;
  misfit: number;
  socStart: number;
}

export function fit(record: ChargeRecord, o: FitOptions): Fit {
  const counted = countedAh(record);
  const most = counted.reduce((a, b) => Math.max(a, b), 0);
  const least = counted.reduce((a, b) => Math.min(a, b), 0);
  const capacityAh = o.capacityAh ?? most - least;
  const socStart = o.socStart ?? 1 - most / capacityAh;
  let slopeV: (s: number) => number;
  const known = o.ocv ? knownCurve(o.ocv) : () => 0;
  const slopeOf = (f: (s: number) => number) => (s: number) => {
    const a = Math.max(0, Math.min(0.96, s - 0.02));
    return Math.min(3, Math.max(0, (f(a + 0.04) - f(a)) / 0.04));
  };
  slopeV = o.ocv ? slopeOf(known) : () => 0;
  let best: Fit | null = null;
  const build = (tau1S: number, tau2S: number): Fit => {
    const shape: Shape = {
      tau1S,
      tau2S,
      hysteresisShare: T.hs,
      activation: TYPICAL_ACTIVATION,
      referenceC: 25,
      capacityAh,
      knownV: known,
      slopeV,
    };
    return solve(record, shape, socStart, o);
  };
  const t1s = [5, 10, 20, 40, 80],
    t2s = [200, 400, 800, 1600, 3200];
  for (let pass = 0; pass < (o.ocv ? 1 : 2); pass++) {
    best = null;
    for (const a of t1s)
      for (const b of t2s) {
        const f = build(a, b);
        if (best === null || f.misfit < best.misfit) best = f;
      }
    if (!o.ocv) {
      const p = best!.solution.p;
      slopeV = slopeOf((s) => along(OCV_KNOTS, p, s, LAYOUT.ocv));
    }
  }
  for (let step = Math.SQRT2; step > 1.1; step = Math.sqrt(step)) {
    for (let moved = true; moved; ) {
      moved = false;
      for (const [fa, fb] of [
        [step, 1],
        [1 / step, 1],
        [1, step],
        [1, 1 / step],
      ]) {
        const a = best!.shape.tau1S * fa!,
          b = best!.shape.tau2S * fb!;
        if (a < 1 || a > 150 || b < 150 || b > 6000) continue;
        const f = build(a, b);
        if (f.misfit < best!.misfit - 1e-9) {
          best = f;
          moved = true;
        }
      }
    }
  }
  return best!;
}

function solve(record: ChargeRecord, shape: Shape, socStart: number, o: FitOptions): Fit {
  const eq = new NormalEquations(LAYOUT.size);
  const walker = new Walker(shape, socStart);
  const row = new Float64Array(LAYOUT.size);
  const n = record.timeS.length;
  const rows: Float64Array[] = [];
  const ys = new Float64Array(n);
  walk(record, walker, o.cellC ?? 25, (k, a, c) => {
    walker.row(row, a, c);
    const y = record.voltageV[k]! - walker.knownV();
    ys[k] = y;
    rows.push(row.slice());
    const w = 1;
    eq.add(row, y, T.misfit / Math.sqrt(w));
  });
  const scale = (0.03 / largestA(record)) * 1; // rough ohm scale
  priors(eq, scale, o.ocv !== undefined);
  const nonNeg = Array.from({ length: LAYOUT.size }, (_, i) => i >= LAYOUT.r0);
  const solution = eq.solve(nonNeg);
  let sq = 0;
  for (let k = 0; k < n; k++) {
    let v = 0;
    const r = rows[k]!;
    for (let i = 0; i < LAYOUT.size; i++) v += r[i]! * solution.p[i]!;
    sq += (ys[k]! - v) ** 2;
  }
  return { shape, solution, rms: Math.sqrt(sq / n), misfit: eq.misfit(solution.p), socStart };
}

function priors(eq: NormalEquations, rScale: number, known: boolean): void {
  const curve = (knots: readonly number[], from: number, sd: number) => {
    for (let k = 1; k + 1 < knots.length; k++) {
      const h0 = knots[k]! - knots[k - 1]!,
        h1 = knots[k + 1]! - knots[k]!;
      // deviation of the middle from the straight line, sd grows with distance
      const a = h1 / (h0 + h1),
        b = h0 / (h0 + h1);
      eq.believe(
        [
          [from + k, 1],
          [from + k - 1, -a],
          [from + k + 1, -b],
        ],
        0,
        sd * (h0 + h1),
      );
    }
  };
  if (known) {
    OCV_KNOTS.forEach((s, k) => eq.believe([[LAYOUT.ocv + k, 1]], 0, T.ocvKnown * (s < 0.1 ? 3 : 1)));
    curve(OCV_KNOTS, LAYOUT.ocv, T.ocvCurv * 5);
  } else {
    OCV_KNOTS.forEach((_, k) => eq.believe([[LAYOUT.ocv + k, 1]], 3.5, 3));
    curve(OCV_KNOTS, LAYOUT.ocv, 1);
  }
  HYSTERESIS_KNOTS.forEach((s, k) =>
    eq.believe([[LAYOUT.hysteresis + k, 1]], 0, s < 0.15 ? T.hystLow : T.hyst),
  );
  for (const from of [LAYOUT.r0, LAYOUT.r1, LAYOUT.r2]) {
    RESISTANCE_KNOTS.forEach((_s, k) => eq.believe([[from + k, 1]], 0, rScale * 3));
    curve(RESISTANCE_KNOTS, from, T.rSmooth * rScale * 10);
  }
  eq.believe([[LAYOUT.diffusion, 1]], T.diff ? 0.2 : 0, T.diff ? 0.5 : 1e-6);
}

export function predict(f: Fit, record: ChargeRecord, socStart: number, cellC: number) {
  const walker = new Walker(f.shape, socStart);
  const row = new Float64Array(LAYOUT.size);
  let sq = 0,
    sqc = 0,
    nc = 0;
  const err: number[] = [];
  walk(record, walker, cellC, (k, a, c) => {
    walker.row(row, a, c);
    let v = walker.knownV();
    for (let i = 0; i < LAYOUT.size; i++) v += row[i]! * f.solution.p[i]!;
    const e = v - record.voltageV[k]!;
    err.push(e);
    sq += e * e;
    if (a > 0.005 * largestA(record) && walker.soc > 0.15) {
      sqc += e * e;
      nc++;
    }
  });
  return { rms: Math.sqrt(sq / record.timeS.length), rmsCharge: Math.sqrt(sqc / nc), err };
}
