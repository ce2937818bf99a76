/** Holds the wall clock against the monotonic one: where they part, somebody or something has set the wall clock. */
import type { ClockBody } from '../journal/format.js';

export interface ClockStep {
  readonly atMs: number;
  /** Wall clock against the monotonic one since the last look, ms; positive: set forward. */
  readonly byMs: number;
}

/** Slewing by a time service (at most 500 ppm by common practice, no source) stays below this in ten seconds. */
const STEP_MS = 100;
const MOST_TOLD = 50;

export class ClockSteps {
  readonly list: ClockStep[] = [];
  #last: { readonly atMs: number; readonly wallMs: number } | null = null;

  take(atMs: number, { wallMs, readWithinMs }: ClockBody): void {
    const last = this.#last;
    this.#last = { atMs, wallMs };
    if (last === null) return;
    const byMs = wallMs - last.wallMs - (atMs - last.atMs);
    if (Math.abs(byMs) > STEP_MS + readWithinMs && this.list.length < MOST_TOLD)
      this.list.push({ atMs, byMs });
  }
}
