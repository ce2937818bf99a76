/** The list of events: each number once, in order, however often and by whatever way it arrived. */
import type { PageEvent } from './contract.js';

/** Older ones are in the journal. */
export const KEPT_EVENTS = 1000;

export class EventLog {
  readonly #events: PageEvent[] = [];
  readonly #known = new Set<number>();
  #droppedTo = -1;

  get events(): readonly PageEvent[] {
    return this.#events;
  }
  /** The number to ask for what comes after; 0 before the first. */
  get last(): number {
    return this.#events.at(-1)?.id ?? 0;
  }

  /** Takes what is new and gives it back in order. */
  add(arrived: readonly PageEvent[]): PageEvent[] {
    const fresh = arrived
      .filter((e) => e.id > this.#droppedTo && !this.#known.has(e.id))
      .filter((e, i, all) => all.findIndex((other) => other.id === e.id) === i)
      .sort((a, b) => a.id - b.id);
    if (fresh.length === 0) return fresh;
    const inOrder = (fresh[0] as PageEvent).id > this.last;
    for (const e of fresh) this.#known.add(e.id);
    this.#events.push(...fresh);
    // Only an answer that overlaps the stream can come out of order.
    if (!inOrder) this.#events.sort((a, b) => a.id - b.id);
    while (this.#events.length > KEPT_EVENTS) {
      const dropped = this.#events.shift() as PageEvent;
      this.#known.delete(dropped.id);
      this.#droppedTo = dropped.id;
    }
    return fresh;
  }
}
