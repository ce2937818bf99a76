/**
 * One figure from many sessions, with its 95 % interval. Sessions differ by more than each knows of itself: the
 * scatter between them is taken from them (DerSimonian and Laird 1986) and the interval from their weighted scatter by
 * Student's t (Hartung and Knapp 2001), never below what their own errors add up to. What all sessions share, the
 * error of the instruments, no scatter shows: it is added.
 */
import { student95 } from '../checks/least-squares.js';

export interface Found {
  readonly value: number;
  /** One standard deviation, as the recording itself tells it. */
  readonly error: number;
}

export interface Combined {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

const NORMAL_95 = 1.96;

/**
 * @param found at least one
 * @param share by which the instruments may be off, of the value, at 95 %
 */
export function combine(found: readonly Found[], share: number): Combined {
  const n = found.length;
  const between2 = betweenOf(found);
  const weights = found.map(({ error }) => 1 / (error * error + between2));
  const sum = weights.reduce((a, b) => a + b, 0);
  const value = found.reduce((a, f, k) => a + f.value * weights[k]!, 0) / sum;
  const own = NORMAL_95 / Math.sqrt(found.reduce((a, { error }) => a + 1 / (error * error), 0));
  const scatter = found.reduce((a, f, k) => a + weights[k]! * (f.value - value) ** 2, 0);
  const half = n < 2 ? own : Math.max(own, student95(n - 1) * Math.sqrt(scatter / ((n - 1) * sum)));
  const whole = Math.hypot(half, share * value);
  return { value, low: value - whole, high: value + whole };
}

/** Variance between sessions, beyond their own errors. */
function betweenOf(found: readonly Found[]): number {
  if (found.length < 2) return 0;
  const weights = found.map(({ error }) => 1 / (error * error));
  const sum = weights.reduce((a, b) => a + b, 0);
  const mean = found.reduce((a, f, k) => a + f.value * weights[k]!, 0) / sum;
  const off = found.reduce((a, f, k) => a + weights[k]! * (f.value - mean) ** 2, 0);
  const squares = weights.reduce((a, w) => a + w * w, 0);
  return Math.max(0, (off - (found.length - 1)) / (sum - squares / sum));
}
