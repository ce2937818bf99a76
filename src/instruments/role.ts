/** What the device side asks of the one role an instrument serves. Time is that of the adapter's clock. */
import type { Answer, Order } from '../rig/orders.js';
import type { ReadingOf } from '../rig/roles.js';
import type { Readings } from './talk.js';

/** Null: the instrument confirmed nothing, so no answer is given; the supervisor says it again, or trips. */
export type Done = (answer: Answer | null) => void;

export interface InstrumentRole {
  readonly role: 'converter' | 'meter';
  /** Something here can put a voltage where people are, or cannot be shown not to. */
  readonly energised: boolean;
  /** What the make-safe sequence wants of this role is done, and was read back. */
  readonly isSafe: boolean;
  /** Greatest magnitude of the volts it reads; NaN when one of them cannot be read. */
  readonly greatestV: number;
  /** Current for the tag of a make-safe; NaN when it cannot be read. */
  readonly currentA: number;
  /** Time at which the newest readings came. */
  readonly readMs: number;
  /** Carries out a permitted order and is done once, later or at once. Set-points do not hold up what follows. */
  obey(order: Order, done: Done): void;
  makeSafe(): void;
  /** One round: what must be told, then what can be read. Skipped while the one before is under way. */
  round(): void;
  /** What happens by itself: an authority runs out. */
  tick(nowMs: number): void;
  /** For a report; begins a new span of least and greatest values. */
  report(): { readonly converter?: ReadingOf<'converter'>; readonly meter?: ReadingOf<'meter'> };
}

const COUNTER = 65536;

/** The newest readings and the counter that moves with each of them. */
export class Newest {
  #sample = 0;
  #readings: Readings = {};
  readMs = Number.NEGATIVE_INFINITY;

  get sample(): number {
    return this.#sample;
  }

  take(readings: Readings, nowMs: number): void {
    this.#sample = (this.#sample + 1) % COUNTER;
    this.#readings = readings;
    this.readMs = nowMs;
  }

  /** NaN for what the map does not read, or has not been read yet. */
  of(name: string): number {
    return this.#readings[name] ?? Number.NaN;
  }

  has(name: string): boolean {
    return name in this.#readings;
  }
}
