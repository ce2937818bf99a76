/**
 * A curve laid through a recording by least squares, with standard errors that are honest about two things: what is
 * left over is not independent from row to row (it is counted as so many fewer rows), and some of what is unknown is
 * known within bounds before (a prior of so many standard deviations).
 */
import { leastSquares } from '../checks/least-squares.js';

export interface Unknown {
  readonly start: number;
  /** What it may lie off from its start before anything is recorded, one standard deviation; Infinity: anything. */
  readonly priorSd: number;
  /** About a thousandth of what would matter; for curves that are not linear. */
  readonly step: number;
  readonly low: number;
  readonly high: number;
}

/** That may be anything, as most that is sought. */
export const free = (start: number, step = 1e-3): Unknown => ({
  ...{ start, step, priorSd: Number.POSITIVE_INFINITY },
  ...{ low: Number.NEGATIVE_INFINITY, high: Number.POSITIVE_INFINITY },
});
/** Known before to lie about a value. */
export const about = (start: number, priorSd: number, step = priorSd / 1000): Unknown => ({
  ...free(start, step),
  priorSd,
});

export interface Curve {
  readonly measured: Float64Array;
  readonly unknowns: readonly Unknown[];
  at(unknowns: Float64Array): Float64Array;
  /** No less is left over than this, whatever the rows say: half a count of the instrument. */
  readonly leastSd: number;
}

export interface Laid {
  readonly at: Float64Array;
  /** One standard deviation each. */
  readonly errors: readonly number[];
  /** Root mean square of what is left over. */
  readonly rms: number;
}

/** Each round takes the scatter from the one before. */
const ROUNDS = 3;
const MOST_CORRELATED = 0.98;

export function layCurve({ measured, unknowns, at, leastSd }: Curve): Laid {
  const n = measured.length;
  const held = unknowns.flatMap(({ priorSd }, i) => (Number.isFinite(priorSd) ? [i] : []));
  let point: Float64Array = Float64Array.from(unknowns, ({ start }) => start);
  let sd = leastSd;
  let laid: Laid = { at: point, errors: unknowns.map(() => Number.POSITIVE_INFINITY), rms: Number.NaN };
  for (let round = 0; round < ROUNDS; round++) {
    const scale = sd;
    const residuals = (p: Float64Array): Float64Array => {
      const curve = at(p);
      const off = new Float64Array(n + held.length);
      for (let k = 0; k < n; k++) off[k] = (curve[k]! - measured[k]!) / scale;
      for (const [k, i] of held.entries()) off[n + k] = (p[i]! - unknowns[i]!.start) / unknowns[i]!.priorSd;
      return off;
    };
    const found = leastSquares(
      {
        residuals,
        steps: unknowns.map(({ step }) => step),
        low: unknowns.map(({ low }) => low),
        high: unknowns.map(({ high }) => high),
      },
      point,
    );
    point = found.at;
    const curve = at(point);
    const left = measured.map((y, k) => y - curve[k]!);
    const rms = Math.sqrt(left.reduce((sum, r) => sum + r * r, 0) / Math.max(1, n));
    const perRow = rms * Math.sqrt(n / Math.max(1, n - unknowns.length));
    sd = Math.max(leastSd, perRow * Math.sqrt(fewerRows(left)));
    const errors = unknowns.map((_, i) => Math.sqrt(found.covariance[i * unknowns.length + i]!));
    laid = { at: point, errors, rms };
  }
  return laid;
}

/** By how many times independent rows are fewer, taken from how far neighbours go together. */
function fewerRows(left: Float64Array): number {
  let same = 0;
  let next = 0;
  for (let k = 0; k < left.length; k++) {
    same += left[k]! ** 2;
    if (k > 0) next += left[k]! * left[k - 1]!;
  }
  const together = same > 0 ? Math.min(MOST_CORRELATED, Math.max(0, next / same)) : 0;
  return (1 + together) / (1 - together);
}
