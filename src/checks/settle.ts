/**
 * Has a pair of pole voltages come to rest? Judged from samples alone: a bounded window of them since the
 * last switching, a least dwell, and a trailing span in which both poles hardly moved.
 */
export interface PolePair {
  readonly tMs: number;
  /** Positive pole to chassis, and chassis to negative pole: both positive on a sound network. */
  readonly positiveV: number;
  readonly negativeV: number;
}

export type Settling = readonly PolePair[];

/** Enough for the longest settling at the shortest period; older samples carry nothing more. */
const MAX_PAIRS = 64;

export const addPair = (window: Settling, pair: PolePair): Settling =>
  window.length < MAX_PAIRS ? [...window, pair] : [...window.slice(1), pair];

export interface SettleRule {
  /** Least time since the first sample of the window. */
  readonly leastMs: number;
  /** Trailing span that must be quiet, and how many samples it must hold. */
  readonly spanMs: number;
  readonly samples: number;
  /** Quiet: neither pole moved by more than this share of the greater of both, or this floor. */
  readonly share: number;
  readonly floorV: number;
}

/** Mean over the quiet span, or null while anything still moves (or cannot be read). */
export function settledPair(window: Settling, rule: SettleRule): PolePair | null {
  const last = window.at(-1);
  if (last === undefined || last.tMs - window[0]!.tMs < rule.leastMs) return null;
  const span = window.filter((pair) => last.tMs - pair.tMs <= rule.spanMs);
  if (span.length < rule.samples) return null;
  const mean = (pick: (pair: PolePair) => number): number =>
    span.reduce((sum, pair) => sum + pick(pair), 0) / span.length;
  const positiveV = mean((pair) => pair.positiveV);
  const negativeV = mean((pair) => pair.negativeV);
  const tolV = Math.max(rule.share * Math.max(Math.abs(positiveV), Math.abs(negativeV)), rule.floorV);
  const quiet = span.every(
    (pair) => Math.abs(pair.positiveV - positiveV) <= tolV && Math.abs(pair.negativeV - negativeV) <= tolV,
  );
  return quiet ? { tMs: last.tMs, positiveV, negativeV } : null;
}

/**
 * Time constant of the approach to rest, ms: straight line through the logarithm of what is left. An approach
 * that is over before two samples could catch it gives an upper bound, from where it must have begun.
 * NaN when there is nothing to tell it from.
 * @param fromV how far the positive pole was from rest when the switch was thrown
 * @param switchedMs earliest instant of that
 */
export function settlingMs(window: Settling, settled: PolePair, switchedMs: number, fromV: number): number {
  const left = window.map((pair) => ({
    tMs: pair.tMs - switchedMs,
    v: Math.abs(pair.positiveV - settled.positiveV),
  }));
  // The noise floor: what is left must stand clear of it to say anything.
  const floorV = Math.max(0.004 * (Math.abs(settled.positiveV) + Math.abs(settled.negativeV)), 0.2);
  const clear = left.filter((point) => point.v > floorV);
  const first = clear[0] ?? left[0];
  if (first === undefined) return Number.NaN;
  const last = clear.at(-1) ?? first;
  // Two samples of one instant, from a clock that stands, time nothing.
  if (last.tMs > first.tMs && last.v < 0.8 * first.v) {
    return (last.tMs - first.tMs) / Math.log(first.v / last.v);
  }
  if (!(first.tMs > 0)) return Number.NaN;
  const ratio = fromV / Math.max(first.v, floorV);
  return ratio > 1 ? first.tMs / Math.log(ratio) : Number.NaN;
}
