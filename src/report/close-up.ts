/**
 * A reading in full around one moment that is not known beforehand: the last seconds are kept as they come, and once
 * the moment is there, the seconds after it.
 */
import type { Point } from '../paper/chart.js';

export const BEFORE_MS = 1500;
export const AFTER_MS = 2500;
/** A device may report faster than it should. */
const MOST_KEPT = 4000;
const LONGEST_GAP_MS = 500;

export class CloseUp {
  #kept: Point[] = [];
  #atMs: number | null = null;

  constructor(readonly holds = false) {}

  take(tMs: number, value: number): void {
    if (this.#atMs !== null && (tMs > this.#atMs + AFTER_MS || this.#kept.length >= MOST_KEPT)) return;
    const last = this.#kept.at(-1);
    if (!this.holds && last !== undefined && tMs - last[0] > LONGEST_GAP_MS) this.#kept.push([last[0], null]);
    this.#kept.push([tMs, Number.isFinite(value) ? value : null]);
    if (this.#atMs === null && this.#kept.length >= MOST_KEPT / 2) this.#forget(tMs);
  }

  /** The moment; the first counts. */
  mark(tMs: number): void {
    if (this.#atMs !== null) return;
    this.#forget(tMs);
    this.#atMs = tMs;
  }

  /** Of what is older than the window only the last stays: it may hold into it. */
  #forget(nowMs: number): void {
    const firstIn = this.#kept.findIndex(([tMs]) => tMs >= nowMs - BEFORE_MS);
    const from = firstIn < 0 ? this.#kept.length - 1 : Math.max(0, firstIn - 1);
    this.#kept = this.#kept.slice(Math.max(from, this.#kept.length - MOST_KEPT / 4));
  }

  /** Seconds from the moment; empty when it never came. @param endMs a value that holds is drawn up to here */
  points(endMs = Number.NaN): Point[] {
    const atMs = this.#atMs;
    if (atMs === null) return [];
    const points: Point[] = [];
    for (const [tMs, y] of this.#kept) {
      const fromMs = tMs - atMs;
      if (fromMs < -BEFORE_MS && !this.holds) continue;
      points.push([Math.max(fromMs, -BEFORE_MS) / 1000, y]);
    }
    const last = points.at(-1);
    const untilS = Math.min(endMs - atMs, AFTER_MS) / 1000;
    if (this.holds && last !== undefined && last[1] !== null && untilS > last[0])
      points.push([untilS, last[1]]);
    return points;
  }
}
