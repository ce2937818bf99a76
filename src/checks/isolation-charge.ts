/**
 * A first look at a recorded settling curve, from charge alone. What has flowed through leaks and known resistor
 * since a stretch began is what both capacitances have lost; with the volts integrated over time for the charges
 * that is linear in conductances and capacitances, and needs neither rest nor a first guess.
 *
 * Integrals over rows miss what happens between them, so this is where the fit starts from, never a figure: a
 * curve that is over within a row leaves the conductances standing, but says nothing of the capacitances.
 */
import type { Prepared } from './isolation-record.js';
import { leastSquares } from './least-squares.js';

export interface ByCharge {
  /** Conductance of each pole, voltmeter included, in units of the known resistor's. */
  readonly positive: number;
  readonly negative: number;
  /** Of both poles together. */
  readonly farad: number;
  /** Of the negative pole in it: half where the pack stands still, which shows nothing of it. */
  readonly share: number;
}

/** Least and greatest sum of capacitances looked for. */
export const LEAST_F = 1e-11;
export const MOST_F = 1e-2;
/** So far from the known resistor's the fit finds its way alone. */
const LEAST = 1e-3;
const MOST = 1e6;

/** @param readV of the positive pole */
export function networkByCharge(data: Prepared, readV: Float64Array, knownOhm: number): ByCharge {
  const { timeS, bothV, stretches, moves } = data;
  const unknowns = moves ? 4 : 3;
  const columns = Array.from({ length: unknowns }, () => new Float64Array(timeS.length));
  const known = new Float64Array(timeS.length);
  for (const { at, from, to } of stretches) {
    let positiveVs = 0;
    let negativeVs = 0;
    for (let k = from; k < to; k++) {
      if (k > from) {
        const halfS = (timeS[k]! - timeS[k - 1]!) / 2;
        positiveVs += halfS * (readV[k]! + readV[k - 1]!);
        negativeVs += halfS * (bothV[k]! - readV[k]! + bothV[k - 1]! - readV[k - 1]!);
      }
      // All in volt-seconds at the known resistor.
      const terms = [positiveVs, -negativeVs, knownOhm * readV[k]!, -knownOhm * bothV[k]!];
      columns.forEach((column, i) => {
        column[k] = terms[i]!;
      });
      known[k] = at === 'none' ? 0 : terms[at === 'pos' ? 0 : 1]!;
    }
    // The charge a stretch begins with is its own affair.
    for (const column of [...columns, known]) centre(column.subarray(from, to));
  }
  const { at } = leastSquares(
    {
      residuals: (q) => known.map((x, k) => columns.reduce((sum, column, i) => sum + q[i]! * column[k]!, x)),
      exactSlopes: () => columns,
      steps: [],
      low: [LEAST, LEAST, LEAST_F, 0],
      high: [MOST, MOST, MOST_F, MOST_F],
    },
    [1, 1, LEAST_F, 0].slice(0, unknowns),
  );
  const farad = at[2]!;
  return { positive: at[0]!, negative: at[1]!, farad, share: moves ? Math.min(1, at[3]! / farad) : 0.5 };
}

function centre(values: Float64Array): void {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  values.forEach((x, k) => {
    values[k] = x - mean;
  });
}
