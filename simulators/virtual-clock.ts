/**
 * A clock that moves only when told to. Promise: callbacks run in order of their time, and of their asking
 * where the times are equal; each sees `nowMs` at exactly its own time; one that asks for the past runs next.
 * The same program with the same seed therefore gives the same run, to the bit.
 */
import type { Clock } from '../src/host/clock.js';

/** 2030-01-01T00:00:00Z: a wall time nobody mistakes for a real session's. */
export const VIRTUAL_EPOCH_MS = 1_893_456_000_000;

interface Entry {
  readonly atMs: number;
  readonly order: number;
  run: (() => void) | null;
}

const before = (a: Entry, b: Entry): boolean => a.atMs < b.atMs || (a.atMs === b.atMs && a.order < b.order);

export class VirtualClock implements Clock {
  private now = 0;
  private asked = 0;
  /** Binary heap, earliest first; cancelled entries stay until they come up. */
  private readonly heap: Entry[] = [];

  nowMs(): number {
    return this.now;
  }

  wallMs(): number {
    return VIRTUAL_EPOCH_MS + Math.floor(this.now);
  }

  after(delayMs: number, run: () => void): () => void {
    // A delay that is not a number counts as none, and cannot freeze the queue.
    const wait = Number.isNaN(delayMs) ? 0 : Math.max(0, delayMs);
    const entry: Entry = { atMs: this.now + wait, order: this.asked++, run };
    this.push(entry);
    return () => {
      entry.run = null;
    };
  }

  /** Time of the next callback, Infinity when none is waiting. */
  get nextMs(): number {
    this.dropCancelled();
    return this.heap[0]?.atMs ?? Number.POSITIVE_INFINITY;
  }

  /**
   * Runs everything due up to and including `tMs`, then stands at `tMs`; or stops early after the callback
   * that makes `enough` true. Returns the time reached.
   */
  runUntil(tMs: number, enough?: () => boolean): number {
    while (this.nextMs <= tMs) {
      this.step();
      if (enough?.()) return this.now;
    }
    if (tMs > this.now) this.now = tMs;
    return this.now;
  }

  /** Runs the next callback; false when none is waiting. For tests that must let promises settle between. */
  step(): boolean {
    this.dropCancelled();
    const entry = this.pop();
    if (!entry) return false;
    this.now = entry.atMs;
    const run = entry.run as () => void;
    entry.run = null;
    run();
    return true;
  }

  private dropCancelled(): void {
    while (this.heap.length > 0 && this.heap[0]!.run === null) this.pop();
  }

  private push(entry: Entry): void {
    const heap = this.heap;
    let at = heap.length;
    heap.push(entry);
    while (at > 0) {
      const parent = (at - 1) >> 1;
      if (!before(entry, heap[parent]!)) break;
      heap[at] = heap[parent]!;
      at = parent;
    }
    heap[at] = entry;
  }

  private pop(): Entry | undefined {
    const heap = this.heap;
    const top = heap[0];
    const last = heap.pop();
    if (top === undefined || last === undefined || heap.length === 0) return top;
    let at = 0;
    for (;;) {
      let child = 2 * at + 1;
      if (child >= heap.length) break;
      if (child + 1 < heap.length && before(heap[child + 1]!, heap[child]!)) child++;
      if (!before(heap[child]!, last)) break;
      heap[at] = heap[child]!;
      at = child;
    }
    heap[at] = last;
    return top;
  }
}
