/**
 * One reading over a session of any length, in bounded memory: thinned as it comes, into spans of time that keep
 * their first, last, least and greatest value, so that a spike of one sample stays a spike. Spans double in length
 * when there are too many of them.
 */
import type { Point } from '../paper/chart.js';

interface Span {
  readonly key: number;
  firstMs: number;
  first: number;
  lastMs: number;
  last: number;
  leastMs: number;
  least: number;
  mostMs: number;
  most: number;
  /** When it could not be read; NaN when it always could. */
  gapMs: number;
}

/** About one for each dot of a printed plot. */
const MOST_SPANS = 512;
/** Reports come at least twice a second; after a silence longer than this nothing is known of what lay between. */
const LONGEST_GAP_MS = 1000;

export class Trace {
  #spans: Span[] = [];
  #spanMs = 1;
  #lastMs = Number.NaN;

  /** @param holds the value stands until the next one, as an order does; a reading is not known between reports */
  constructor(readonly holds = false) {}

  /** @param least of all samples since the last report, where the device says so; `most` likewise */
  take(tMs: number, value: number, least = value, most = value): void {
    const before = this.#spans.at(-1);
    if (before !== undefined && !this.holds && tMs - this.#lastMs > LONGEST_GAP_MS)
      before.gapMs = this.#lastMs;
    this.#lastMs = tMs;
    const span = this.#spanOf(tMs);
    if (!Number.isFinite(value)) {
      span.gapMs = tMs;
      return;
    }
    if (Number.isNaN(span.first)) {
      span.first = value;
      span.firstMs = tMs;
    }
    span.last = value;
    span.lastMs = tMs;
    // Written so that a least or most that cannot be read changes nothing.
    if (!(span.least <= least) && Number.isFinite(least)) {
      span.least = least;
      span.leastMs = tMs;
    }
    if (!(span.most >= most) && Number.isFinite(most)) {
      span.most = most;
      span.mostMs = tMs;
    }
  }

  #spanOf(tMs: number): Span {
    const last = this.#spans.at(-1);
    const key = Math.floor(tMs / this.#spanMs);
    // A time that falls (a damaged record) belongs to the span before.
    if (last !== undefined && last.key >= key) return last;
    const made = emptySpan(key, tMs);
    this.#spans.push(made);
    while (this.#spans.length > MOST_SPANS) this.#halve();
    return this.#spans.at(-1) as Span;
  }

  #halve(): void {
    this.#spanMs *= 2;
    const halved: Span[] = [];
    for (const span of this.#spans) {
      const key = Math.floor(span.key / 2);
      const last = halved.at(-1);
      if (last?.key === key) join(last, span);
      else halved.push({ ...span, key });
    }
    this.#spans = halved;
  }

  /** @param scale what a millisecond is on the axis @param endMs a value that holds is drawn up to here */
  points(scale = 1, endMs = Number.NaN): Point[] {
    const points: Point[] = [];
    for (const s of this.#spans) {
      const here: Point[] = [];
      if (!Number.isNaN(s.first)) {
        here.push([s.firstMs, s.first], [s.leastMs, s.least], [s.mostMs, s.most], [s.lastMs, s.last]);
      }
      if (!Number.isNaN(s.gapMs)) here.push([s.gapMs, null]);
      here.sort((a, b) => a[0] - b[0]);
      for (const [tMs, y] of here) {
        const x = tMs * scale;
        const before = points.at(-1);
        if (before === undefined || before[0] !== x || before[1] !== y) points.push([x, y]);
      }
    }
    const last = points.at(-1);
    if (this.holds && last !== undefined && last[1] !== null && endMs * scale > last[0])
      points.push([endMs * scale, last[1]]);
    return points;
  }
}

const none = Number.NaN;
const emptySpan = (key: number, tMs: number): Span => ({
  key,
  firstMs: tMs,
  first: none,
  lastMs: tMs,
  last: none,
  leastMs: tMs,
  least: none,
  mostMs: tMs,
  most: none,
  gapMs: none,
});

/** `b` follows `a`. */
function join(a: Span, b: Span): void {
  if (!Number.isNaN(b.gapMs)) a.gapMs = b.gapMs;
  if (Number.isNaN(b.first)) return;
  if (Number.isNaN(a.first)) {
    a.first = b.first;
    a.firstMs = b.firstMs;
  }
  a.last = b.last;
  a.lastMs = b.lastMs;
  if (!(a.least <= b.least)) {
    a.least = b.least;
    a.leastMs = b.leastMs;
  }
  if (!(a.most >= b.most)) {
    a.most = b.most;
    a.mostMs = b.mostMs;
  }
}
