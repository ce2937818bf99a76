/**
 * A fitted cell against another recording: driven by that recording's current, and charged by a constant current
 * and then a constant voltage of its own accord. Pure.
 */
import { type ChargeRecord, type ChargeStretch, chargeStretch } from './charge-record.js';
import { inverseOf } from './ocv-table.js';
import { REFERENCE_C } from './raft-activation.js';
import type { RaftFit } from './raft-fit.js';
import { Walker, walk } from './raft-model.js';
import { type Residuals, residualsOf, voltsAt } from './raft-residuals.js';

export interface PredictOptions {
  /** 0 to 1, at the first row; else the one at which the fitted cell shows the first row's volts. */
  readonly socStart?: number;
  /** Where the recording has no temperature; else `assumedC`. */
  readonly cellC?: number;
}

export interface Prediction {
  readonly socStart: number;
  readonly residuals: Residuals;
  /** What was measured; null when the recording holds no constant current followed by a constant voltage. */
  readonly measured: ChargeStretch | null;
  /** By its own rule, from the state the driven cell has when that charge begins; null when none was measured. */
  readonly own: OwnCharge | null;
}

/** A charge by constant current and constant voltage as the fitted cell would take it. */
export interface OwnCharge {
  /** NaN when the voltage is never reached. */
  readonly ccTimeS: number;
  /** NaN when it never ends. */
  readonly chargeAh: number;
  /** Whether the current fell to where the measured one ended; and what flowed when it was given up, and when. */
  readonly ends: boolean;
  readonly lastA: number;
  readonly lastS: number;
}

/** Steps of the charge by its own rule. */
const STEP_S = 5;
/** A charge that has not ended after so many times the measured one does not end. */
const LONGEST = 4;

export function predictRaft(fit: RaftFit, record: ChargeRecord, options: PredictOptions): Prediction {
  const cellC = options.cellC ?? assumedC(fit);
  const { shape, solution } = fit;
  const socStart = options.socStart ?? startSoc(fit, record, cellC);
  const residuals = residualsOf(record, shape, solution.p, socStart, cellC);
  const measured = chargeStretch(record);
  const own = measured === null ? null : charge(fit, record, measured, socStart, cellC);
  return { socStart, residuals, measured, own };
}

/** Temperature of a recording that does not say: that of the one fitted, or of several the reference. */
export const assumedC = ({ recordings }: RaftFit): number =>
  recordings.length === 1 ? recordings[0]!.cellC : REFERENCE_C;

/** At which the fitted cell, as it would stand at the first row, shows that row's volts. */
function startSoc(fit: RaftFit, record: ChargeRecord, cellC: number): number {
  const row = new Float64Array(fit.shape.layout.size);
  const volts = (soc: number): number =>
    voltsAt(new Walker(fit.shape, soc), row, fit.solution.p, record.currentA[0]!, record.cellC?.[0] ?? cellC);
  return inverseOf(volts, record.voltageV[0]!, -0.05, 1.05);
}

function charge(
  fit: RaftFit,
  record: ChargeRecord,
  stretch: ChargeStretch,
  socStart: number,
  cellC: number,
): OwnCharge {
  const { shape, solution } = fit;
  const row = new Float64Array(shape.layout.size);
  const driven = new Walker(shape, socStart);
  let walker = driven.clone();
  const startRow = Math.max(0, stretch.firstRow - 1);
  walk(record, driven, cellC, (k) => {
    if (k === startRow) walker = driven.clone();
  });
  const lengthS = record.timeS[stretch.lastRow]! - stretch.startS;
  let k = startRow;
  let ccTimeS = Number.NaN;
  let chargeAh = 0;
  let amps = stretch.constantA;
  let last = Number.NEGATIVE_INFINITY;
  let timeS = STEP_S;
  for (; timeS <= LONGEST * lengthS; timeS += STEP_S) {
    while (k < stretch.lastRow && record.timeS[k]! - stretch.startS < timeS) k++;
    const rowC = record.cellC?.[k] ?? cellC;
    // The volts after the step run nearly straight with the current in it: two points give the one that holds them.
    const after = (lastA: number): number => {
      const trial = walker.clone();
      trial.step(STEP_S, amps, lastA, rowC);
      return voltsAt(trial, row, solution.p, lastA, rowC);
    };
    let next = stretch.constantA;
    const full = after(next);
    if (full > stretch.limitV) {
      if (Number.isNaN(ccTimeS)) {
        const share = (stretch.limitV - last) / (full - last);
        ccTimeS = timeS - STEP_S * (1 - Math.min(1, Math.max(0, share)));
      }
      for (let round = 0; round < 3; round++) {
        const trialA = next * 0.95;
        const [high, low] = [after(next), after(trialA)];
        next -= ((high - stretch.limitV) * (next - trialA)) / (high - low);
      }
    }
    last = full;
    // A current that cannot be told is not one that has ended.
    if (next <= stretch.endA && !Number.isNaN(ccTimeS)) {
      return { ccTimeS, chargeAh, ends: true, lastA: next, lastS: timeS };
    }
    if (!Number.isFinite(next)) break;
    walker.step(STEP_S, amps, next, rowC);
    chargeAh += (((amps + next) / 2) * STEP_S) / 3600;
    amps = next;
  }
  return { ccTimeS, chargeAh: Number.NaN, ends: false, lastA: amps, lastS: timeS };
}
