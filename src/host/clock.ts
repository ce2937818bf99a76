/** The one injected clock. `Date`, `performance` and `setTimeout` appear in this file and nowhere else. */
import { performance } from 'node:perf_hooks';

export interface Clock {
  /** Monotonic milliseconds with a fraction; origin arbitrary, the same for the life of the clock. */
  nowMs(): number;
  /** Wall time, ms since 1970. Only ever written down, never decided on. */
  wallMs(): number;
  /** Calls `run` once after `delayMs`; the returned function cancels it. */
  after(delayMs: number, run: () => void): () => void;
}

/** A wall time for people and file names, UTC. */
export const isoOf = (wallMs: number): string => new Date(wallMs).toISOString();

export const realClock: Clock = {
  nowMs: () => performance.now(),
  wallMs: () => Date.now(),
  after(delayMs, run) {
    const handle = setTimeout(run, Math.max(0, delayMs));
    return () => clearTimeout(handle);
  },
};
