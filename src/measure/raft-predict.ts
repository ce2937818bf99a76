/**
 * A fitted cell against another recording: driven by that recording's current, and charged by a constant current
 * and then a constant voltage of its own accord. Pure.
 */
import { type ChargeRecord, type ChargeStretch, chargeStretch } from './charge-record.js';
import { inverseOf } from './ocv-table.js';
import { type RaftFit, type Residuals, residualsOf, voltsAt } from './raft-fit.js';
import { Walker, walk } from './raft-model.js';

export interface PredictOptions {
  /** 0 to 1, at the first row; else the one at which the fitted cell shows the first row's volts. */
  readonly socStart?: number;
  /** Where the recording has no temperature; else that of the fitted recording. */
  readonly cellC?: number;
}

export interface Prediction {
  readonly socStart: number;
  readonly residuals: Residuals;
  /** What was measured; null when the recording holds no constant current followed by a constant voltage. */
  readonly measured: ChargeStretch | null;
  /** By its own rule, from the state the driven cell has when that charge begins. */
  readonly ccTimeS: number;
  readonly chargeAh: number;
}

/** Steps of the charge by its own rule. */
const STEP_S = 5;
/** A charge that has not ended after so many times the measured one does not end. */
const LONGEST = 4;

export function predictRaft(fit: RaftFit, record: ChargeRecord, options: PredictOptions): Prediction {
  const cellC = options.cellC ?? fit.cellC;
  const { shape, solution } = fit;
  const socStart = options.socStart ?? startSoc(fit, record, cellC);
  const residuals = residualsOf(record, shape, solution.p, socStart, cellC);
  const measured = chargeStretch(record);
  const own =
    measured === null
      ? { ccTimeS: Number.NaN, chargeAh: Number.NaN }
      : charge(fit, record, measured, socStart, cellC);
  return { socStart, residuals, measured, ...own };
}

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
): { ccTimeS: number; chargeAh: number } {
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
  for (let timeS = STEP_S; timeS <= LONGEST * lengthS; timeS += STEP_S) {
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
    if (!(next > stretch.endA)) break;
    walker.step(STEP_S, amps, next, rowC);
    chargeAh += (((amps + next) / 2) * STEP_S) / 3600;
    amps = next;
  }
  return { ccTimeS, chargeAh };
}
