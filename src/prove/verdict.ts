/** Verdicts: a limit inside the uncertainty of a figure is inconclusive, not passed. */
import type { Measured } from './measure.js';

export type Verdict = 'pass' | 'fail' | 'inconclusive' | 'not-applicable';

/** As people are told. */
export const VERDICT_TEXT: Readonly<Record<Verdict, string>> = {
  pass: 'passed',
  fail: 'FAILED',
  inconclusive: 'inconclusive',
  'not-applicable': 'not applicable',
};
export const VERDICTS = Object.keys(VERDICT_TEXT) as readonly Verdict[];

const WEIGHT: Readonly<Record<Verdict, number>> = { 'not-applicable': 0, pass: 1, inconclusive: 2, fail: 3 };

/** The worst of several; what is not applicable says nothing. */
export const worstOf = (verdicts: readonly Verdict[]): Verdict =>
  verdicts.reduce<Verdict>((worst, v) => (WEIGHT[v] > WEIGHT[worst] ? v : worst), 'not-applicable');

/** @param limits NaN where there is none on that side */
export function judge({ lo, hi, value }: Measured, atMost: number, atLeast: number): Verdict {
  if (Number.isNaN(value)) return 'fail';
  const above = Number.isNaN(atMost) ? 'pass' : hi <= atMost ? 'pass' : lo > atMost ? 'fail' : 'inconclusive';
  const below = Number.isNaN(atLeast)
    ? 'pass'
    : lo >= atLeast
      ? 'pass'
      : hi < atLeast
        ? 'fail'
        : 'inconclusive';
  return worstOf([above, below]);
}

export interface Spread {
  readonly n: number;
  readonly min: number;
  readonly median: number;
  readonly p95: number;
  readonly max: number;
}

/** Nearest rank: a value that was measured, not one between two. */
export function spread(values: readonly number[]): Spread | null {
  const sorted = values.filter((v) => Number.isFinite(v)).sort((a, b) => a - b);
  if (sorted.length === 0) return null;
  const rank = (share: number): number => sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] as number;
  return {
    n: sorted.length,
    min: sorted[0] as number,
    median: rank(0.5),
    p95: rank(0.95),
    max: sorted.at(-1) as number,
  };
}
