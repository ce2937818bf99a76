/**
 * Which finding came first: the one that latched a trip; where nothing tripped, the refusal of the start; else the
 * first finding that stopped or limited the session, else the first that was noted.
 */
import { CATALOGUE, type Code, type Effect } from '../checks/catalogue.js';
import type { Entry } from './entry.js';

export interface FirstOut {
  readonly code: string;
  readonly part: string | null;
  readonly effect: Effect | null;
  /** Seconds since the session left parked, as told to people; 0 while parked. */
  readonly atS: number;
  /** ms since the header. */
  readonly atMs: number;
  readonly phase: string;
  readonly reading: number | null;
  readonly limit: number | null;
  readonly unit: string;
  readonly setting: string;
}

/** The greater, the more it did. */
const WEIGHT: Readonly<Record<Effect, number>> = {
  'trip-0': 4,
  'trip-1': 4,
  refuse: 3,
  stop: 2,
  derate: 2,
  note: 1,
};
const TRIP = 5;

export class FirstOutFinder {
  #best: { readonly weight: number; readonly out: FirstOut } | null = null;
  #phase = 'parked';
  #startedMs: number | null = null;

  get result(): FirstOut | null {
    return this.#best?.out ?? null;
  }

  take({ k, b, tMs }: Entry): void {
    if (k === 'state') {
      this.#phase = typeof b.value === 'string' ? b.value : (Object.keys(b.value)[0] ?? '');
      if (this.#phase !== 'parked') this.#startedMs ??= tMs;
    } else if (k === 'trip') this.#offer(TRIP, b, tMs, b.phase);
    else if (k === 'refusal')
      this.#offer(this.#startedMs === null ? WEIGHT.refuse : WEIGHT.note, b, tMs, this.#phase);
    // What is not yet so while parked is no event of a session.
    else if (k === 'finding' && b.failing === true && this.#startedMs !== null) {
      const effect = CATALOGUE[b.code as Code]?.effect ?? 'note';
      // What latches is told by the record of its trip; without one it came behind another.
      if (effect !== 'trip-0' && effect !== 'trip-1') this.#offer(WEIGHT[effect], b, tMs, this.#phase);
    }
  }

  // biome-ignore lint/suspicious/noExplicitAny: bodies of three kinds with these fields in common
  #offer(weight: number, b: any, atMs: number, phase: string): void {
    if (this.#best !== null && this.#best.weight >= weight) return;
    const { code, reading, limit, unit, setting } = b;
    const atS = this.#startedMs === null ? 0 : Math.round(atMs - this.#startedMs) / 1000;
    const effect = CATALOGUE[code as Code]?.effect ?? null;
    const out = { code, part: b.part ?? null, effect, atS, atMs, phase, reading, limit, unit, setting };
    this.#best = { weight, out };
  }
}
