/**
 * What an invariant is at observation level: one definition in words for the journal and one for the truth of a
 * simulated bench, and a watch that follows both. A watch has no clock and no memory outside itself: the same
 * records and rows give the same verdicts.
 */
import type { InvariantId } from '../../../machines/invariant-list.js';
import type { Rig } from '../../rig/schema.js';
import type { Entry } from '../entry.js';
import type { Picture } from '../picture.js';

/** One row of the truth file, by column. Time counts from the header of the journal. */
export interface Row {
  readonly tMs: number;
  get(column: string): number;
}

export interface Context {
  readonly rig: Rig;
  /** Session the journal belongs to. */
  readonly nonce: string;
  /** What the journal shows up to, and not including, the record at hand. */
  readonly picture: Picture;
  /** Faults given to the bench so far, by name: a converter that disobeys is no word of the supervisor. */
  readonly faults: ReadonlySet<string>;
  /** The invariant is broken now. */
  broken(where: 'journal' | 'truth', why: string, tMs?: number): void;
}

/** What a session told of its end. */
export interface Told {
  readonly outcome: 'released' | 'tripped' | 'refused';
  readonly endState: { readonly provenDead: boolean };
}

export interface Watch {
  /** A record; the picture shows what was before it. */
  entry?(e: Entry): void;
  /** All records of one instant are in the picture. */
  moment?(): void;
  row?(row: Row): void;
  /** Nothing more comes. `told`: the outcome as told to people, when a record of it cannot be expected. */
  end?(told: Told | null): void;
}

export interface Invariant {
  readonly id: InvariantId;
  /** The definition on a journal. */
  readonly onJournal: string;
  /** The definition on the truth of a bench; null where a bench cannot know. */
  readonly onTruth: string | null;
  readonly watch: (context: Context) => Watch;
}

/** With these a contactor makes unasked, or when it is repaired while its coil still stands from before. */
const MAKE_BY_THEMSELVES = [
  'train-live',
  'contactor-weld-at-rest',
  'contactor-wont-close',
  'aux-says-closed',
  'train-wont-close',
  'precharge-open',
];
export const makesByItself = (faults: ReadonlySet<string>): boolean =>
  MAKE_BY_THEMSELVES.some((fault) => faults.has(fault));

/** Dead is below this: IEC 60204-1 6.2.4, published. */
export const SAFE_V = 60;

const larger = (...volts: number[]): number => Math.max(...volts.map(Math.abs));
/** Greatest true voltage anyone could touch at the plug: pole to pole and each pole to chassis. */
export const plugV = (row: Row): number => {
  const p = row.get('plugPositiveV');
  const n = row.get('plugNegativeV');
  return larger(p, n, p - n);
};
export const outputV = (row: Row): number => {
  const p = row.get('outPositiveV');
  const n = row.get('outNegativeV');
  return larger(p, n, p - n);
};

/** Names what is not as it must be; null when all is. NaN is not as it must be. */
export function lacking(what: Readonly<Record<string, boolean>>): string | null {
  const names = Object.keys(what).filter((name) => what[name] !== true);
  return names.length === 0 ? null : names.join(', ');
}

/** Says once, when a condition has stood for longer than it may. */
export class Standing {
  #sinceMs = Number.NaN;
  #told = false;

  constructor(private readonly longestMs: number) {}

  /** @returns true in the one call in which it has stood too long */
  take(stands: boolean, nowMs: number): boolean {
    if (!stands) {
      this.#sinceMs = Number.NaN;
      this.#told = false;
      return false;
    }
    if (Number.isNaN(this.#sinceMs)) this.#sinceMs = nowMs;
    if (this.#told || nowMs - this.#sinceMs <= this.longestMs) return false;
    this.#told = true;
    return true;
  }
}
