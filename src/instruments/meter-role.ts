/**
 * An independent meter read by rounds. Least and greatest values are those of the rounds since the last report: what
 * happens between two rounds is not seen, which is why the rig counts `pollMs` into its trip times.
 */
import type { Clock } from '../host/clock.js';
import type { ReadingOf } from '../rig/roles.js';
import { type Done, type InstrumentRole, Newest } from './role.js';
import type { Talk, Trouble } from './talk.js';

const SPANS = [
  ['currentA', 'currentMinA', 'currentMaxA'],
  ['outputV', 'outputMinV', 'outputMaxV'],
  ['plugV', 'plugMinV', 'plugMaxV'],
] as const;
const VOLTS = ['outputV', 'plugV', 'outputPositiveV', 'outputNegativeV', 'plugPositiveV', 'plugNegativeV'];

export interface MeterOptions {
  readonly clock: Clock;
  readonly talk: Talk;
  trouble(what: Trouble): void;
}

export class MeterRole implements InstrumentRole {
  readonly role = 'meter';
  readonly energised = false;
  readonly isSafe = true;
  readonly #newest = new Newest();
  /** Least and greatest since the last report, by name of the field. */
  #span = new Map<string, { least: number; greatest: number }>();
  #reported = true;
  #busy = false;

  constructor(private readonly options: MeterOptions) {}

  get readMs(): number {
    return this.#newest.readMs;
  }
  get currentA(): number {
    return this.#newest.of('currentA');
  }
  get greatestV(): number {
    return Math.max(...VOLTS.map((name) => Math.abs(this.#newest.of(name))));
  }

  /** A meter is asked for nothing but to be read. */
  obey(_order: unknown, done: Done): void {
    done('unknown-order');
  }
  makeSafe(): void {}
  tick(): void {}

  round(): void {
    if (this.#busy) return;
    this.#busy = true;
    const { talk, clock, trouble } = this.options;
    talk.read((readings, what) => {
      this.#busy = false;
      if (what !== null) trouble(what);
      if (readings === null) return;
      this.#newest.take(readings, clock.nowMs());
      this.#widen();
    });
  }

  report(): { meter: ReadingOf<'meter'> } {
    this.#reported = true;
    const of = (name: string) => this.#newest.of(name);
    const span = (name: string) => this.#span.get(name) ?? { least: Number.NaN, greatest: Number.NaN };
    return {
      meter: {
        sample: this.#newest.sample,
        currentA: of('currentA'),
        currentMinA: span('currentA').least,
        currentMaxA: span('currentA').greatest,
        outputV: of('outputV'),
        outputMinV: span('outputV').least,
        outputMaxV: span('outputV').greatest,
        plugV: of('plugV'),
        plugMinV: span('plugV').least,
        plugMaxV: span('plugV').greatest,
        outputPositiveV: of('outputPositiveV'),
        outputNegativeV: of('outputNegativeV'),
        plugPositiveV: of('plugPositiveV'),
        plugNegativeV: of('plugNegativeV'),
        cableC: of('cableC'),
        contactC: of('contactC'),
      },
    };
  }

  /** A value that cannot be read makes the whole span unreadable: something was not seen. */
  #widen(): void {
    if (this.#reported) this.#span = new Map();
    this.#reported = false;
    for (const [name, least, greatest] of SPANS) {
      const value = this.#newest.of(name);
      // An instrument that keeps its own extremes sees more than the rounds do.
      const low = this.#newest.has(least) ? this.#newest.of(least) : value;
      const high = this.#newest.has(greatest) ? this.#newest.of(greatest) : value;
      const before = this.#span.get(name) ?? { least: low, greatest: high };
      this.#span.set(name, {
        least: Math.min(before.least, low),
        greatest: Math.max(before.greatest, high),
      });
    }
  }
}
