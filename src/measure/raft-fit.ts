/**
 * Fit of the estimator's cell model (raft-model.ts) to one recording, or to several of one cell together. At several
 * temperatures they also tell how the resistances depend on it (raft-activation.ts). Pure.
 */
import { type ChargeRecord, median, thinned } from './charge-record.js';
import type { Solution } from './normal-equations.js';
import { type OcvCurve, type OcvPoint, ocvCurve } from './ocv-table.js';
import { BELIEVED, BELIEVED_SD, REFERENCE_C } from './raft-activation.js';
import { Equations, type Try, type Widening } from './raft-equations.js';
import type { Shape } from './raft-model.js';
import { TAU_1, TAU_2 } from './raft-priors.js';
import { type PointSd, refined } from './raft-refine.js';
import { type Residuals, residualsOf } from './raft-residuals.js';
import { closer, fromGrid, tauSdLog } from './raft-search.js';
import { type FitRecord, startsOf } from './raft-start.js';

/** What holds for all recordings. */
export interface CellOptions {
  /** Else from the table at rests, else the charge that moved. */
  readonly capacityAh?: number;
  /** At least two points. */
  readonly ocv?: readonly OcvPoint[];
}

/** What holds for one. */
export type FitOptions = CellOptions & Omit<FitRecord, 'record'>;

/** One of the recordings fitted to. */
export interface FittedRecord {
  readonly socStart: number;
  /** Median of what was logged, else as told, else the reference temperature. */
  readonly cellC: number;
  readonly rows: number;
  readonly residuals: Residuals;
}

/** A fitted cell. */
export interface RaftFit {
  readonly shape: Shape;
  readonly solution: Solution;
  readonly pointSd: PointSd;
  /** Whether the activation energies were sought; else they are as believed. */
  readonly activationFitted: boolean;
  /** By which stated standard deviations are to be widened. */
  readonly widening: Widening;
  readonly recordings: readonly FittedRecord[];
  /** Of all rows, and of those that charge above 15 % state of charge; NaN where there are none. */
  readonly fitRmsV: number;
  readonly fitChargeRmsV: number;
  readonly rows: number;
}

/** More rows than this, in all, are thinned: what is between them tells the same. */
const MOST_ROWS = 2500;
/** Recordings nearer to each other tell no activation energy. */
const APART_K = 5;
const TYPICAL = { tau1S: TAU_1.typicalS, tau2S: TAU_2.typicalS, activation: BELIEVED };

export function fitRaft(record: ChargeRecord, { capacityAh, ocv, ...own }: FitOptions): RaftFit {
  return fitRaftTogether([{ record, ...own }], {
    ...(capacityAh === undefined ? {} : { capacityAh }),
    ...(ocv === undefined ? {} : { ocv }),
  });
}

/** @param whole recordings of one cell, at least one */
export function fitRaftTogether(whole: readonly FitRecord[], { capacityAh, ocv }: CellOptions): RaftFit {
  const table = ocv === undefined ? null : ocvCurve(ocv);
  const starts = startsOf(whole, capacityAh, table);
  const toldC = whole.map((each) => each.cellC ?? REFERENCE_C);
  const cellC = whole.map(({ record }, j) => median(record.cellC ?? [toldC[j]!]));
  const activationFitted = Math.max(...cellC) - Math.min(...cellC) >= APART_K;
  const records = whole.map(({ record }, j) => ({
    record: thinned(record, Math.ceil(MOST_ROWS / whole.length)),
    cellC: toldC[j]!,
  }));
  const equations = new Equations(records, starts, table, activationFitted);
  const { best, pointSd } = activationFitted ? severalC(equations, table) : oneC(equations, table);
  const { shape, solution } = best;
  const recordings = whole.map(({ record }, j) => ({
    socStart: best.bearings.socs[j]!,
    cellC: cellC[j]!,
    rows: record.timeS.length,
    residuals: residualsOf(record, shape, solution.p, best.bearings.socs[j]!, toldC[j]!),
  }));
  return {
    shape,
    solution,
    pointSd,
    activationFitted,
    widening: equations.widening(best),
    recordings,
    fitRmsV: together(recordings, (r) => [r.residuals.rmsV, r.rows]),
    fitChargeRmsV: together(recordings, (r) => [r.residuals.chargeRmsV, r.residuals.chargeRows]),
    rows: recordings.reduce((sum, r) => sum + r.rows, 0),
  };
}

interface Found {
  readonly best: Try;
  readonly pointSd: PointSd;
}

function oneC(equations: Equations, table: OcvCurve | null): Found {
  let best = fromGrid(equations);
  if (table === null) {
    // Now that there is a curve, its slope can serve the diffusion.
    equations.adopt(best);
    best = fromGrid(equations);
  }
  best = closer(equations, best);
  best = equations.run(best, best, 4);
  const [tau1Log, tau2Log] = [tauSdLog(equations, best, 1), tauSdLog(equations, best, 2)];
  return { best, pointSd: { tau1Log, tau2Log, activation: BELIEVED_SD } };
}

/** From what is typical: far from it the misfit has other valleys, with a slow pair that is not slow. */
function severalC(equations: Equations, table: OcvCurve | null): Found {
  let best = equations.run(TYPICAL, null, 4);
  if (table === null) {
    equations.adopt(best);
    best = equations.run(TYPICAL, null, 4);
  }
  return refined(equations, best);
}

/** Root mean square over recordings, each by its own rows. */
function together(
  recordings: readonly FittedRecord[],
  of: (recording: FittedRecord) => readonly [rms: number, rows: number],
): number {
  let [sum, count] = [0, 0];
  for (const recording of recordings) {
    const [rms, rows] = of(recording);
    if (rows === 0) continue;
    sum += rms * rms * rows;
    count += rows;
  }
  return Math.sqrt(sum / count);
}
