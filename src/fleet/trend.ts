/**
 * A straight line through figures over weeks, by least squares, and when it would meet a limit. A line is only told
 * when its slope stands clear of the scatter of the figures themselves: the two-sided test of a slope by Student's t
 * at 99 %. What it says of the future is an extrapolation and nothing more.
 */
export interface Trend {
  readonly points: number;
  /** Between the first and the last figure. */
  readonly weeks: number;
  readonly slopePerWeek: number;
  /** Standard error of the slope. */
  readonly slopeErrorPerWeek: number;
  /** Value of the line at the last figure. */
  readonly now: number;
  /** The slope is more than scatter. */
  readonly clear: boolean;
}

export const MS_PER_WEEK = 7 * 24 * 3_600_000;
/** Fewer figures, or within less time, say nothing about weeks. */
const LEAST_POINTS = 4;
const LEAST_WEEKS = 1;
/** 99.5 % quantiles of Student's t for 1, 2, … degrees of freedom (any table of it); normal beyond. */
const T_995 = [
  63.657, 9.925, 5.841, 4.604, 4.032, 3.707, 3.499, 3.355, 3.25, 3.169, 3.106, 3.055, 3.012, 2.977, 2.947,
  2.921, 2.898, 2.878, 2.861, 2.845,
];
const T_MANY = 2.845;
/** A slope that moves the figure by less than this share of it over the whole time is none, however exact. */
const LEAST_SHARE = 1e-6;

/** @returns null when there is too little to tell */
export function trendOf(wallMs: readonly number[], values: readonly number[]): Trend | null {
  const n = wallMs.length;
  const firstMs = wallMs.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY);
  const lastMs = wallMs.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY);
  const weeks = (lastMs - firstMs) / MS_PER_WEEK;
  if (n < LEAST_POINTS || !(weeks >= LEAST_WEEKS)) return null;
  const x = wallMs.map((ms) => (ms - firstMs) / MS_PER_WEEK);
  const meanX = x.reduce((a, b) => a + b, 0) / n;
  const meanY = values.reduce((a, b) => a + b, 0) / n;
  let xx = 0;
  let xy = 0;
  for (let k = 0; k < n; k++) {
    xx += (x[k]! - meanX) ** 2;
    xy += (x[k]! - meanX) * (values[k]! - meanY);
  }
  const slopePerWeek = xy / xx;
  let squares = 0;
  for (let k = 0; k < n; k++) squares += (values[k]! - meanY - slopePerWeek * (x[k]! - meanX)) ** 2;
  const slopeErrorPerWeek = Math.sqrt(squares / (n - 2) / xx);
  const moved = Math.abs(slopePerWeek) * weeks > LEAST_SHARE * Math.abs(meanY);
  const t = T_995[n - 3] ?? T_MANY;
  return {
    points: n,
    weeks,
    slopePerWeek,
    slopeErrorPerWeek,
    now: meanY + slopePerWeek * (weeks - meanX),
    clear: moved && Math.abs(slopePerWeek) > t * slopeErrorPerWeek,
  };
}

/** Weeks from the last figure until the line meets an upper limit; 0 when it is past it, infinite when it never does. */
export function weeksUntil({ now, slopePerWeek, clear }: Trend, limit: number): number {
  if (now >= limit) return 0;
  return clear && slopePerWeek > 0 ? (limit - now) / slopePerWeek : Number.POSITIVE_INFINITY;
}
