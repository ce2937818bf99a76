/**
 * The equations that recordings of one cell give for its parameters (raft-model.ts), with what is believed beforehand,
 * and their solution at one point of what is not linear: a least squares, re-linearised about the surface's lead, the
 * axis of the table and where the recordings begin.
 */
import { type ChargeRecord, median, stepOhm as stepOhmOf } from './charge-record.js';
import { NormalEquations, type Solution } from './normal-equations.js';
import { type OcvCurve, ocvCurve } from './ocv-table.js';
import { type Activation, BELIEVED, factorAt } from './raft-activation.js';
import { CORRECTION_KNOTS, layoutOf, OCV_KNOTS, type Shape, Walker, walk } from './raft-model.js';
import { believe, ERROR, errorV, LEAD_S, stepErrorShare, tauMisfit } from './raft-priors.js';
import { CHARGE_FROM_SOC } from './raft-residuals.js';
import type { Starts } from './raft-start.js';

/** What is not linear and not found by linearising. */
export interface Point {
  readonly tau1S: number;
  readonly tau2S: number;
  readonly activation: Activation;
}

/** What the volts are linearised about: the axis of the table, the surface's lead, where the recordings begin. */
export interface Bearings {
  readonly shift: number;
  readonly stretch: number;
  /** The lead times the slow time constant. */
  readonly leadS: number;
  readonly socs: readonly number[];
}

export interface Try extends Point {
  readonly shape: Shape;
  readonly solution: Solution;
  readonly misfit: number;
  /** About which `solution` is linearised. */
  readonly bearings: Bearings;
}

/** Errors were larger than believed by these, below and above `CHARGE_FROM_SOC`. */
export interface Widening {
  readonly below: number;
  readonly above: number;
}

export interface SearchRecord {
  readonly record: ChargeRecord;
  /** Where it has no temperature. */
  readonly cellC: number;
}

/** Columns beside those of the model, which come first, or in their place: for row k of recording j. */
export interface MoreColumns {
  readonly count: number;
  fill(row: Float64Array, j: number, k: number): void;
}

/** Fewer points of a table, or less than the whole range, and its correction is as fine as a curve of its own. */
const MANY_POINTS = 40;
/** As good as held. */
const LEAST_SD = 1e-6;
export const NO_COLUMNS: MoreColumns = { count: 0, fill: () => {} };

export class Equations {
  readonly records: readonly SearchRecord[];
  readonly #starts: Starts;
  readonly #table: OcvCurve | null;
  readonly #severalC: boolean;
  readonly #stepOhm: number;
  readonly #ocvKnots: readonly number[];
  /** The table, or the curve of an earlier pass. */
  #known: OcvCurve | null;

  /** @param severalC the records were taken at several temperatures */
  constructor(records: readonly SearchRecord[], starts: Starts, table: OcvCurve | null, severalC: boolean) {
    this.#severalC = severalC;
    this.records = records;
    this.#starts = starts;
    this.#table = table;
    this.#known = table;
    // As they would be at the reference temperature, like all resistances here.
    const ohms = records.map(
      ({ record, cellC }) => stepOhmOf(record) / factorAt(BELIEVED, 'r0', median(record.cellC ?? [cellC])),
    );
    this.#stepOhm = median(ohms.filter((ohm) => ohm > 0));
    const whole = table !== null && table.points >= MANY_POINTS && table.lowSoc <= 0 && table.highSoc >= 1;
    this.#ocvKnots = whole ? CORRECTION_KNOTS : OCV_KNOTS;
  }

  /** The open-circuit volts found become what is known beforehand of the next pass. */
  adopt({ shape, solution }: Try): void {
    const { ocv } = shape.layout;
    this.#known = ocvCurve(OCV_KNOTS.map((soc, k) => ({ soc, v: solution.p[ocv + k]! })));
  }

  /** Before anything was found. */
  get firstBearings(): Bearings {
    return { shift: 0, stretch: 0, leadS: LEAD_S, socs: this.#starts.socs };
  }

  /** Least squares, linearised anew `rounds` times; starts from what an earlier one came to. */
  run(point: Point, from: Try | null, rounds: number): Try {
    let bearings = from?.bearings ?? this.firstBearings;
    for (let round = 1; ; round++) {
      const shape = this.shapeAt(point, bearings);
      const equations = this.sum(shape, bearings, NO_COLUMNS);
      const solution = this.solved(equations, shape, NO_COLUMNS);
      const misfit = equations.misfit(solution.p) + tauMisfit(point.tau1S, point.tau2S);
      if (round === rounds || this.#known === null) return { ...point, shape, solution, misfit, bearings };
      bearings = this.turned(shape, bearings, solution.p);
    }
  }

  shapeAt({ tau1S, tau2S, activation }: Point, { shift, stretch, leadS }: Bearings): Shape {
    const known = this.#known;
    const [b, a] = [shift, 1 + stretch];
    return {
      tau1S,
      tau2S,
      activation,
      capacityAh: this.#starts.capacityAh,
      knownV: known === null ? () => 0 : (soc) => known.v(b + a * soc),
      slopeV: known === null ? () => 0 : (soc) => known.slope(b + a * soc),
      ocvKnots: this.#ocvKnots,
      lead: known === null ? 0 : leadS / tau2S,
      layout: layoutOf(this.#ocvKnots, this.records.length),
    };
  }

  /** The bearings that a solution points to. */
  turned({ layout, lead, tau2S }: Shape, { shift, stretch, socs }: Bearings, p: Float64Array): Bearings {
    return {
      shift: shift + p[layout.shift]!,
      stretch: stretch + p[layout.stretch]!,
      leadS: Math.max(0, lead + p[layout.lead]!) * tau2S,
      socs: socs.map((soc, j) => (j === 0 ? soc : soc + p[layout.offsets + j - 1]!)),
    };
  }

  /** Rows and beliefs, but those of the point. */
  sum(shape: Shape, { shift, stretch, socs }: Bearings, more: MoreColumns): NormalEquations {
    const { layout } = shape;
    const equations = new NormalEquations(layout.size + more.count);
    this.#rows(shape, socs, (row, y, sd) => equations.add(row, y, sd), more);
    believe(equations, { shape, stepOhm: this.#stepOhm, table: this.#table, shift, stretch });
    const { socs: believed, sds } = this.#starts;
    for (let j = 1; j < socs.length; j++) {
      equations.believe([[layout.offsets + j - 1, 1]], believed[j]! - socs[j]!, Math.hypot(sds[0]!, sds[j]!));
    }
    return equations;
  }

  /** With no resistance below nought, and no surface that lags behind. */
  solved(equations: NormalEquations, { layout, lead }: Shape, more: MoreColumns): Solution {
    const bounded = Array.from(
      { length: layout.size + more.count },
      (_, i) => i >= layout.r0 && i < layout.lead,
    );
    const free = equations.solve(bounded);
    if (!(lead + free.p[layout.lead]! < 0)) return free;
    equations.believe([[layout.lead, 1]], -lead, LEAST_SD);
    return equations.solve(bounded);
  }

  /**
   * By how much errors were larger than believed, below and above `CHARGE_FROM_SOC`: near empty the model is at its
   * worst, which says nothing of the range that trains use. Never below 1.
   */
  widening({ shape, solution, bearings }: Try): Widening {
    const sums = { low: 0, lows: 0, high: 0, highs: 0 };
    this.#rows(shape, bearings.socs, (row, y, sd, soc) => {
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

  /** Between temperatures R0 is off by a share of itself, which shows at steps. */
  #stepV(soc: number, stepA: number, cellC: number): number {
    if (!this.#severalC || !(this.#stepOhm > 0)) return 0;
    return stepErrorShare(soc) * this.#stepOhm * factorAt(BELIEVED, 'r0', cellC) * Math.abs(stepA);
  }

  /** The records' rows as equations, each less what its forerunner's error foretells of its own. */
  #rows(
    shape: Shape,
    socs: readonly number[],
    take: (row: Float64Array, y: number, sd: number, soc: number) => void,
    more: MoreColumns = NO_COLUMNS,
  ): void {
    const { layout } = shape;
    const row = new Float64Array(layout.size + more.count);
    const difference = new Float64Array(row.length);
    this.records.forEach(({ record, cellC }, j) => {
      const walker = new Walker(shape, socs[j]!);
      const last = { row: new Float64Array(row.length), y: 0, sd: 0, soc: 0 };
      walk(record, walker, cellC, (k, currentA, rowC) => {
        walker.row(row.subarray(0, layout.size), currentA, rowC);
        // The first recording's beginning is what the others are held against.
        if (j > 0) row[layout.offsets + j - 1] = shape.slopeV(walker.surface());
        more.fill(row, j, k);
        const y = record.voltageV[k]! - walker.knownV();
        const sd = errorV(walker.soc);
        if (k === 0) take(row, y, sd, walker.soc);
        else {
          const stepS = record.timeS[k]! - record.timeS[k - 1]!;
          const far = Math.abs(walker.soc - last.soc) / ERROR.alongSoc + stepS / ERROR.alongS;
          const kept = Math.exp(-far) * Math.min(1, sd / last.sd);
          for (let i = 0; i < row.length; i++) difference[i] = row[i]! - kept * last.row[i]!;
          const stepV = this.#stepV(walker.soc, currentA - record.currentA[k - 1]!, rowC);
          const noiseV = ERROR.noiseV * Math.hypot(1, kept);
          const fresh = Math.max(0, sd * sd - (kept * last.sd) ** 2) + noiseV ** 2 + stepV ** 2;
          take(difference, y - kept * last.y, Math.sqrt(fresh), walker.soc);
        }
        last.row.set(row);
        last.y = y;
        last.sd = sd;
        last.soc = walker.soc;
      });
    });
  }
}
