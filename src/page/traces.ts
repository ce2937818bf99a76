/** The last hour as points, numbered without a gap. */
import { TRACE_COLUMNS } from './api.js';

export const POINT_EVERY_MS = 200;
export const KEPT_POINTS = 3_600_000 / POINT_EVERY_MS;
/** Names of limits a session meets; bounds what a rig could make of them. */
const MOST_BINDINGS = 200;

export type Point = (number | null)[];

export class Traces {
  readonly #ring: Point[] = [];
  readonly #bindings: string[] = [];
  #next = 0;

  /** Number of the point to come. */
  get next(): number {
    return this.#next;
  }
  get first(): number {
    return Math.max(0, this.#next - KEPT_POINTS);
  }
  get bindings(): readonly string[] {
    return this.#bindings;
  }

  /** The number of a limit by its name. */
  bindingOf(limit: string): number {
    const known = this.#bindings.indexOf(limit);
    if (known >= 0) return known;
    if (this.#bindings.length >= MOST_BINDINGS) return MOST_BINDINGS - 1;
    return this.#bindings.push(limit) - 1;
  }

  add(point: Point): void {
    if (point.length !== TRACE_COLUMNS.length) throw new Error(`a point has ${TRACE_COLUMNS.length} columns`);
    this.#ring[this.#next % KEPT_POINTS] = point;
    this.#next++;
  }

  /** From number `from` on, at most `most`. */
  from(from: number, most = KEPT_POINTS): { readonly first: number; readonly points: Point[] } {
    const first = Math.min(Math.max(from, this.first), this.#next);
    const points: Point[] = [];
    for (let i = first; i < this.#next && points.length < most; i++)
      points.push(this.#ring[i % KEPT_POINTS] as Point);
    return { first, points };
  }
}
