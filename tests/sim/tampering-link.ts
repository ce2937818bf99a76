/**
 * Somebody on the line between the supervisor and a device: hears every line both ways and decides what becomes
 * of it. Wraps any link; nothing on either side knows.
 */
import type { Clock } from '../../src/host/clock.js';
import type { Link, LinkEvents } from '../../src/link/link.js';

/** What arrives in place of one line, and how much later. */
export interface Arrival {
  readonly line: string;
  readonly afterMs: number;
}
export type Direction = 'to-device' | 'to-supervisor';
/** @param count lines of this direction so far, from 1 */
export type Tamper = (line: string, count: number, direction: Direction) => readonly Arrival[];

export const passes = (line: string): readonly Arrival[] => [{ line, afterMs: 0 }];

export class TamperingLink implements Link {
  #events: LinkEvents | null = null;
  readonly #count = { 'to-device': 0, 'to-supervisor': 0 };

  constructor(
    private readonly inner: Link,
    private readonly clock: Clock,
    /** Asked for every line; `passes` leaves it alone. */
    private readonly tamper: Tamper,
  ) {}

  get port(): string {
    return this.inner.port;
  }
  get generation(): number {
    return this.inner.generation;
  }
  get dropped() {
    return this.inner.dropped;
  }

  open(events: LinkEvents): Promise<void> {
    this.#events = events;
    const line = (text: string): void =>
      this.#deliver(text, 'to-supervisor', (arrived) => this.#events?.line(arrived));
    return this.inner.open({ line, down: (reason) => events.down(reason) });
  }

  send(line: string): boolean {
    this.#deliver(line, 'to-device', (arrived) => this.inner.send(arrived));
    return true;
  }

  close(): Promise<void> {
    this.#events = null;
    return this.inner.close();
  }

  /** Somebody who speaks by himself. */
  say(line: string, direction: Direction): void {
    if (direction === 'to-device') this.inner.send(line);
    else this.#events?.line(line);
  }

  #deliver(line: string, direction: Direction, hand: (line: string) => void): void {
    const count = ++this.#count[direction];
    for (const arrival of this.tamper(line, count, direction)) {
      if (arrival.afterMs === 0) hand(arrival.line);
      else this.clock.after(arrival.afterMs, () => hand(arrival.line));
    }
  }
}
