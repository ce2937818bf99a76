/** A figure with how far it may be off: what the estimators give, and how to reckon with it. */

/** What may be the case with 95 %: from `atLeast` to `atMost`. */
export interface Estimate {
  /** Infinity where a leak is too small to be seen; NaN where only the bounds say anything. */
  readonly value: number;
  /** The farther of both ends; Infinity where the upper end is open, NaN where there is no value. */
  readonly uncertainty: number;
  readonly atLeast: number;
  readonly atMost: number;
}

export const asEstimate = (value: number, atLeast: number, atMost: number): Estimate => ({
  value,
  // Infinity less infinity would be no number at all.
  uncertainty: Number.isFinite(atMost) ? Math.max(value - atLeast, atMost - value) : Number.POSITIVE_INFINITY,
  atLeast,
  atMost,
});

/** Value ± the same to both sides. */
export const evenly = (value: number, off: number): Estimate => asEstimate(value, value - off, value + off);

/** Conductance and how far it may be off, to resistance: lopsided, and open upward when it may be nothing. */
export function reciprocal(siemens: number, offS: number): Estimate {
  const most = siemens > offS ? 1 / (siemens - offS) : Number.POSITIVE_INFINITY;
  const least = Number.isFinite(offS) ? 1 / (Math.max(siemens, 0) + offS) : 0;
  return asEstimate(siemens > 0 ? 1 / siemens : Number.POSITIVE_INFINITY, least, most);
}

/** Known by its logarithm. */
export const logarithmic = (value: number, offLog: number): Estimate =>
  asEstimate(value, value * Math.exp(-offLog), value * Math.exp(offLog));

/** A share of a total, both uncertain. */
export const part = (total: Estimate, share: number, offShare: number): Estimate =>
  asEstimate(
    total.value * share,
    total.atLeast * Math.max(0, share - offShare),
    total.atMost * Math.min(1, share + offShare),
  );

/** The lower of two: which of them it is may itself be open. */
export const lower = (a: Estimate, b: Estimate): Estimate =>
  asEstimate(Math.min(a.value, b.value), Math.min(a.atLeast, b.atLeast), Math.min(a.atMost, b.atMost));

export const scaled = (e: Estimate, by: number): Estimate => ({
  value: e.value * by,
  uncertainty: e.uncertainty * by,
  atLeast: e.atLeast * by,
  atMost: e.atMost * by,
});
