/** The volts of a fitted cell along a recorded current, and how far they are from the recorded ones. */
import { type ChargeRecord, quietA } from './charge-record.js';
import { type Shape, Walker, walk } from './raft-model.js';

/** Charges are judged above this state of charge: below it no train is charged, and no model is good. */
export const CHARGE_FROM_SOC = 0.15;

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
  /** Of all rows, and of those that charge above `CHARGE_FROM_SOC`; NaN where there are none. */
  readonly rmsV: number;
  readonly chargeRmsV: number;
  readonly chargeRows: number;
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
    chargeRows: sums.charging,
  };
}
