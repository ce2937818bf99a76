/**
 * Fit of the estimator's cell model (raft-model.ts) to one recording: for each pair of time constants a linear least
 * squares with priors, re-linearised about the surface's lead and the axis of the table; the time constants by
 * searching a grid and then closer about the best. Pure.
 */
import {
  type ChargeRecord,
  countedAh,
  median,
  quietA,
  restedRows,
  stepOhm as stepOhmOf,
  thinned,
} from './charge-record.js';
import { NormalEquations, type Solution } from './normal-equations.js';
import { type OcvCurve, type OcvPoint, ocvCurve } from './ocv-table.js';
import {
  arrhenius,
  CORRECTION_KNOTS,
  layoutOf,
  OCV_KNOTS,
  R0_ACTIVATION,
  REFERENCE_C,
  type Shape,
  Walker,
  walk,
} from './raft-model.js';
import { believe, ERROR, errorV, LEAD_S, tauMisfit } from './raft-priors.js';

export interface FitOptions {
  /** Else from the table at rests, else the charge that moved. */
  readonly capacityAh?: number;
  /** 0 to 1, at the first row; else by the table when the cell rested, else the top of the counted charge is full. */
  readonly socStart?: number;
  /** At least two points. */
  readonly ocv?: readonly OcvPoint[];
  /** Where the recording has no temperature. */
  readonly cellC?: number;
}

/** Errors were larger than believed by these, below and above `CHARGE_FROM_SOC`. */
export interface Widening {
  readonly below: number;
  readonly above: number;
}

/** A fitted cell. */
export interface RaftFit {
  readonly shape: Shape;
  readonly solution: Solution;
  readonly socStart: number;
  readonly cellC: number;
  /** Standard deviations of the logarithms of the time constants. */
  readonly tau1SdLog: number;
  readonly tau2SdLog: number;
  /** By which stated standard deviations are to be widened. */
  readonly widening: Widening;
  /** Of all rows, and of those that charge above 15 % state of charge; NaN where there are none. */
  readonly fitRmsV: number;
  readonly fitChargeRmsV: number;
  readonly rows: number;
}

/** More rows are thinned: what is between them tells the same. */
const MOST_ROWS = 2500;
/** Fewer points of a table, or less than the whole range, and its correction is as fine as a curve of its own. */
const MANY_POINTS = 40;
const GRID_1_S = [5, 10, 20, 40, 80] as const;
const GRID_2_S = [200, 400, 800, 1600, 3200] as const;
const RANGE_1_S = [1, 150] as const;
const RANGE_2_S = [150, 6000] as const;
const FINEST_STEP = 1.1;
/** A better misfit by less is none. */
const GAIN = 0.01;
export const CHARGE_FROM_SOC = 0.15;

interface Try {
  readonly shape: Shape;
  readonly solution: Solution;
  readonly misfit: number;
  readonly shift: number;
  readonly stretch: number;
}

export function fitRaft(whole: ChargeRecord, options: FitOptions): RaftFit {
  const record = thinned(whole, MOST_ROWS);
  const measured = options.ocv === undefined ? null : ocvCurve(options.ocv);
  const { capacityAh, socStart } = startOf(whole, options, measured);
  const cellC = options.cellC ?? REFERENCE_C;
  const search = new Search(record, measured, capacityAh, socStart, cellC);
  let best = search.grid();
  if (measured === null) {
    // Now that there is a curve, its slope can serve the diffusion.
    search.adopt(best);
    best = search.grid();
  }
  best = search.closer(best);
  best = search.run(best.shape.tau1S, best.shape.tau2S, best, 4);
  const { shape, solution } = best;
  const residuals = residualsOf(whole, shape, solution.p, socStart, cellC);
  return {
    shape,
    solution,
    socStart,
    cellC,
    tau1SdLog: search.curvature(best, 1),
    tau2SdLog: search.curvature(best, 2),
    widening: search.widening(best),
    fitRmsV: residuals.rmsV,
    fitChargeRmsV: residuals.chargeRmsV,
    rows: whole.timeS.length,
  };
}

/** Capacity and state of charge at the first row, from the options, the table at rests, or the counted charge. */
function startOf(
  record: ChargeRecord,
  options: FitOptions,
  table: OcvCurve | null,
): { readonly capacityAh: number; readonly socStart: number } {
  const counted = countedAh(record);
  const most = counted.reduce((a, b) => Math.max(a, b), 0);
  const least = counted.reduce((a, b) => Math.min(a, b), 0);
  const rests =
    table === null
      ? []
      : restedRows(record).map((k) => ({ ah: counted[k]!, soc: table.inverse(record.voltageV[k]!) }));
  let capacityAh = options.capacityAh ?? Number.NaN;
  if (!(capacityAh > 0)) {
    const low = rests.reduce((a, b) => (b.soc < a.soc ? b : a), rests[0] ?? { ah: 0, soc: 0 });
    const high = rests.reduce((a, b) => (b.soc > a.soc ? b : a), rests[0] ?? { ah: 0, soc: 0 });
    const apart = high.soc - low.soc;
    capacityAh = apart > 0.3 ? (high.ah - low.ah) / apart : most - least;
  }
  const first = Math.abs(record.currentA[0]!) <= quietA(record) ? rests[0] : undefined;
  const socStart = options.socStart ?? (first === undefined ? 1 - most / capacityAh : first.soc);
  return { capacityAh, socStart };
}

class Search {
  readonly #record: ChargeRecord;
  readonly #table: OcvCurve | null;
  readonly #capacityAh: number;
  readonly #socStart: number;
  readonly #cellC: number;
  readonly #stepOhm: number;
  readonly #ocvKnots: readonly number[];
  /** The table, or the curve of an earlier pass. */
  #known: OcvCurve | null;

  constructor(
    record: ChargeRecord,
    table: OcvCurve | null,
    capacityAh: number,
    socStart: number,
    cellC: number,
  ) {
    this.#record = record;
    this.#table = table;
    this.#known = table;
    this.#capacityAh = capacityAh;
    this.#socStart = socStart;
    this.#cellC = cellC;
    // As it would be at the reference temperature, like all resistances here.
    this.#stepOhm = stepOhmOf(record) / arrhenius(R0_ACTIVATION, median(record.cellC ?? [cellC]));
    const whole = table !== null && table.points >= MANY_POINTS && table.lowSoc <= 0 && table.highSoc >= 1;
    this.#ocvKnots = whole ? CORRECTION_KNOTS : OCV_KNOTS;
  }

  grid(): Try {
    let best: Try | null = null;
    for (const tau2S of GRID_2_S) {
      for (const tau1S of GRID_1_S) {
        const found = this.run(tau1S, tau2S, best, 2);
        if (best === null || found.misfit < best.misfit) best = found;
      }
    }
    return best!;
  }

  closer(from: Try): Try {
    let best = from;
    for (let step = Math.SQRT2; step > FINEST_STEP; step = Math.sqrt(step)) {
      for (let moved = true; moved; ) {
        moved = false;
        for (const [by1, by2] of [
          [step, 1],
          [1 / step, 1],
          [1, step],
          [1, 1 / step],
        ] as const) {
          const tau1S = best.shape.tau1S * by1;
          const tau2S = best.shape.tau2S * by2;
          if (!(tau1S >= RANGE_1_S[0] && tau1S <= RANGE_1_S[1])) continue;
          if (!(tau2S >= RANGE_2_S[0] && tau2S <= RANGE_2_S[1])) continue;
          const found = this.run(tau1S, tau2S, best, 2);
          if (found.misfit < best.misfit - GAIN) {
            best = found;
            moved = true;
          }
        }
      }
    }
    return best;
  }

  /** The open-circuit volts found become what is known beforehand of the next pass. */
  adopt({ shape, solution }: Try): void {
    const { ocv } = shape.layout;
    this.#known = ocvCurve(OCV_KNOTS.map((soc, k) => ({ soc, v: solution.p[ocv + k]! })));
  }

  /** Least squares, linearised anew `rounds` times; starts from the lead and the axis of an earlier one. */
  run(tau1S: number, tau2S: number, from: Try | null, rounds: number): Try {
    let shift = from?.shift ?? 0;
    let stretch = from?.stretch ?? 0;
    let lead = (from === null ? LEAD_S : from.shape.lead * from.shape.tau2S) / tau2S;
    const layout = layoutOf(this.#ocvKnots);
    for (let round = 1; ; round++) {
      const known = this.#known;
      const [b, a] = [shift, 1 + stretch];
      const shape: Shape = {
        tau1S,
        tau2S,
        capacityAh: this.#capacityAh,
        knownV: known === null ? () => 0 : (soc) => known.v(b + a * soc),
        slopeV: known === null ? () => 0 : (soc) => known.slope(b + a * soc),
        ocvKnots: this.#ocvKnots,
        lead: known === null ? 0 : lead,
        layout,
      };
      const { solution, misfit } = this.#solve(shape, shift, stretch);
      if (round === rounds || known === null) return { shape, solution, misfit, shift, stretch };
      shift += solution.p[layout.shift]!;
      stretch += solution.p[layout.stretch]!;
      lead = Math.max(0, lead + solution.p[layout.lead]!);
    }
  }

  /** Standard deviation of the logarithm of a time constant, by the curvature of the misfit. */
  curvature(best: Try, which: 1 | 2): number {
    const step = 1.2;
    const at = (factor: number): number => {
      const { tau1S, tau2S } = best.shape;
      return this.run(which === 1 ? tau1S * factor : tau1S, which === 2 ? tau2S * factor : tau2S, best, 2)
        .misfit;
    };
    const bend = (at(step) + at(1 / step) - 2 * best.misfit) / Math.log(step) ** 2;
    return bend > 0 ? Math.sqrt(2 / bend) : Number.POSITIVE_INFINITY;
  }

  /**
   * By how much errors were larger than believed, below and above `CHARGE_FROM_SOC`: near empty the model is at its
   * worst, which says nothing of the range that trains use. Never below 1.
   */
  widening({ shape, solution }: Try): Widening {
    const sums = { low: 0, lows: 0, high: 0, highs: 0 };
    this.#rows(shape, (row, y, sd, soc) => {
      const off = row.reduce((sum, a, i) => sum + a * solution.p[i]!, -y) / sd;
      if (soc < CHARGE_FROM_SOC) {
        sums.low += off * off;
        sums.lows += 1;
      } else {
        sums.high += off * off;
        sums.highs += 1;
      }
    });
    const by = (sum: number, count: number): number => Math.sqrt(Math.max(1, sum / Math.max(1, count)));
    return { below: by(sums.low, sums.lows), above: by(sums.high, sums.highs) };
  }

  #solve(shape: Shape, shift: number, stretch: number): { solution: Solution; misfit: number } {
    const { layout } = shape;
    const equations = new NormalEquations(layout.size);
    this.#rows(shape, (row, y, sd) => equations.add(row, y, sd));
    believe(equations, { shape, stepOhm: this.#stepOhm, table: this.#table, shift, stretch });
    const bounded = Array.from({ length: layout.size }, (_, i) => i >= layout.r0 && i < layout.lead);
    const solution = equations.solve(bounded);
    return { solution, misfit: equations.misfit(solution.p) + tauMisfit(shape.tau1S, shape.tau2S) };
  }

  /** The record's rows as equations, each less what its forerunner's error foretells of its own. */
  #rows(shape: Shape, take: (row: Float64Array, y: number, sd: number, soc: number) => void): void {
    const record = this.#record;
    const { size } = shape.layout;
    const walker = new Walker(shape, this.#socStart);
    const row = new Float64Array(size);
    const difference = new Float64Array(size);
    const last = { row: new Float64Array(size), y: 0, sd: 0, soc: 0 };
    walk(record, walker, this.#cellC, (k, currentA, rowC) => {
      walker.row(row, currentA, rowC);
      const y = record.voltageV[k]! - walker.knownV();
      const sd = errorV(walker.soc);
      if (k === 0) take(row, y, sd, walker.soc);
      else {
        const stepS = record.timeS[k]! - record.timeS[k - 1]!;
        const far = Math.abs(walker.soc - last.soc) / ERROR.alongSoc + stepS / ERROR.alongS;
        const kept = Math.exp(-far) * Math.min(1, sd / last.sd);
        for (let i = 0; i < size; i++) difference[i] = row[i]! - kept * last.row[i]!;
        const fresh = Math.max(0, sd * sd - (kept * last.sd) ** 2) + ERROR.noiseV ** 2 * (1 + kept * kept);
        take(difference, y - kept * last.y, Math.sqrt(fresh), walker.soc);
      }
      last.row.set(row);
      last.y = y;
      last.sd = sd;
      last.soc = walker.soc;
    });
  }
}

/** Volts of a fitted cell at the walker's instant. */
export function voltsAt(
  walker: Walker,
  row: Float64Array,
  p: Float64Array,
  currentA: number,
  cellC: number,
): number {
  walker.row(row, currentA, cellC);
  let volts = walker.knownV();
  for (let i = 0; i < row.length; i++) volts += row[i]! * p[i]!;
  return volts;
}

export interface Residuals {
  /** Computed volts, row by row. */
  readonly computedV: Float64Array;
  readonly soc: Float64Array;
  readonly rmsV: number;
  readonly chargeRmsV: number;
}

/** A fitted cell driven by a record's current. */
export function residualsOf(
  record: ChargeRecord,
  shape: Shape,
  p: Float64Array,
  socStart: number,
  cellC: number,
): Residuals {
  const walker = new Walker(shape, socStart);
  const row = new Float64Array(shape.layout.size);
  const quiet = quietA(record);
  const n = record.timeS.length;
  const computedV = new Float64Array(n);
  const soc = new Float64Array(n);
  const sums = { all: 0, charge: 0, charging: 0 };
  walk(record, walker, cellC, (k, currentA, rowC) => {
    computedV[k] = voltsAt(walker, row, p, currentA, rowC);
    soc[k] = walker.soc;
    const square = (computedV[k]! - record.voltageV[k]!) ** 2;
    sums.all += square;
    if (currentA > quiet && walker.soc > CHARGE_FROM_SOC) {
      sums.charge += square;
      sums.charging += 1;
    }
  });
  return {
    computedV,
    soc,
    rmsV: Math.sqrt(sums.all / n),
    chargeRmsV: Math.sqrt(sums.charge / sums.charging),
  };
}
