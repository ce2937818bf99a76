/**
 * The last hour of points, one array a column, each appended in place: a chart is handed these very arrays, so
 * that a redraw copies nothing. The oldest go in blocks, not one by one. What could not be read stays null and
 * is drawn as a gap.
 */
import type { TRACE_COLUMNS } from '../api.js';
import type { Row } from './contract.js';

/** One hour at a point every 200 ms. */
export const KEPT_POINTS = 18_000;
/** How many more may lie there before a block is dropped. */
const BLOCK = 600;
/** Taken between two points whose times tell nothing: one belongs to another session. */
const STEP_S = 0.2;

export type Column = (number | null)[];

type Behind<T extends readonly unknown[]> = T extends readonly [unknown, ...infer Rest] ? Rest : never;

/** Columns of a row, by their place behind the time; another order than the server's does not compile. */
export const FIELDS: Behind<typeof TRACE_COLUMNS> = [
  'outputV',
  'plugV',
  'trainV',
  'currentA',
  'setpointA',
  'leastA',
  'binding',
  'cableC',
  'contactC',
  'cellMaxC',
  'soc',
];
export type Field = (typeof FIELDS)[number];

/** Where a session begins on the running axis: its time is x minus `zeroS`. */
export interface Origin {
  readonly fromS: number;
  readonly zeroS: number;
}

const emptyColumns = () =>
  Object.fromEntries(FIELDS.map((field): [Field, Column] => [field, []])) as Record<Field, Column>;

export class TraceStore {
  /** Running time, s: grows over all sessions, where session time begins again with each. */
  readonly x: number[] = [];
  readonly columns: Record<Field, Column> = emptyColumns();
  readonly #origins: Origin[] = [];
  #next: number | null = null;
  #lastAtMs: number | null = null;
  bindings: readonly string[] = [];

  /** Number of the point that comes next; null before the first. */
  get next(): number | null {
    return this.#next;
  }
  get origins(): readonly Origin[] {
    return this.#origins;
  }
  get endS(): number {
    return this.x.at(-1) ?? 0;
  }
  get startS(): number {
    return this.x[0] ?? 0;
  }

  /**
   * Takes the points that continue what is here and leaves out those it has.
   * @returns the number of the first point that is missing in between, to be asked for; null when nothing is.
   */
  add(first: number, points: readonly Row[]): number | null {
    if (this.#next === null) this.#next = first;
    if (first > this.#next) return this.#next;
    for (let i = this.#next - first; i < points.length; i++) {
      this.#append(points[i] as Row);
      this.#next += 1;
    }
    if (this.x.length > KEPT_POINTS + BLOCK) this.#drop(this.x.length - KEPT_POINTS);
    return null;
  }

  /** As `add`, but what the server no longer has is given up: a gap is left where it was. */
  refill(first: number, points: readonly Row[]): void {
    if (this.#next !== null && first > this.#next) {
      if (this.x.length > 0) this.#append([this.#lastAtMs]);
      this.#next = first;
    }
    this.add(first, points);
  }

  /** Session time, ms, at a place of the running axis. */
  sessionMsAt(x: number): number {
    const origin = this.#origins.findLast((o) => o.fromS <= x) ?? this.#origins[0];
    return (x - (origin?.zeroS ?? 0)) * 1000;
  }

  bindingAt(index: number): string {
    const n = this.columns.binding[index];
    return n === null || n === undefined ? '' : (this.bindings[n] ?? '');
  }

  #append(row: Row): void {
    const atMs = row[0] ?? null;
    const before = this.#lastAtMs;
    const passedMs = atMs === null || before === null ? Number.NaN : atMs - before;
    const goesOn = passedMs >= 0;
    const x = this.x.length === 0 ? 0 : this.endS + (goesOn ? Math.max(passedMs / 1000, 1e-3) : STEP_S);
    const begins = atMs !== null && !goesOn;
    if (begins) this.#origins.push({ fromS: x, zeroS: x - atMs / 1000 });
    if (atMs !== null) this.#lastAtMs = atMs;
    this.x.push(x);
    FIELDS.forEach((field, i) => {
      this.columns[field].push(row[i + 1] ?? null);
    });
  }

  #drop(count: number): void {
    this.x.splice(0, count);
    for (const field of FIELDS) this.columns[field].splice(0, count);
    while ((this.#origins[1]?.fromS ?? Number.POSITIVE_INFINITY) <= this.startS) this.#origins.shift();
  }
}
