/** The newest events, numbered without a gap, so that a page that was away can ask for what it missed. */
import type { PageEvent } from './api.js';

/** A session makes some dozens; a day of exercises fits. */
const KEPT = 5000;

export class EventBook {
  readonly #kept: PageEvent[] = [];
  #last = 0;

  /** Number of the newest event; 0 before the first. */
  get last(): number {
    return this.#last;
  }

  add(event: Omit<PageEvent, 'id'>): PageEvent {
    const told = { id: ++this.#last, ...event };
    this.#kept.push(told);
    // In one go now and then: taking the first of an array each time costs its length.
    if (this.#kept.length > 2 * KEPT) this.#kept.splice(0, KEPT);
    return told;
  }

  /** Those after number `id`, at most `most`; what is no longer kept is left out. */
  after(id: number, most: number): PageEvent[] {
    const first = this.#kept[0]?.id ?? 1;
    const at = Math.max(0, id + 1 - first);
    return this.#kept.slice(at, at + most);
  }
}
