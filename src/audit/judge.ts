/**
 * Holds one session against all invariants: its journal as it grows or from a file, and where there is one the truth
 * of the bench. Nothing is kept but what the invariants themselves remember, so a day's session costs no more
 * memory than a short one. Used by tests, by campaigns and by the audit of a journal.
 */
import type { InvariantId } from '../../machines/invariant-list.js';
import type { JournalRecord } from '../journal/format.js';
import type { Rig } from '../rig/schema.js';
import { type Entry, entryOf } from './entry.js';
import { OBSERVED } from './invariants/index.js';
import type { Context, Invariant, Row, Told, Watch } from './invariants/watch.js';
import { Picture } from './picture.js';

export interface Breach {
  readonly id: InvariantId;
  readonly where: 'journal' | 'truth';
  /** ms since the header. */
  readonly tMs: number;
  readonly why: string;
}

/** More than this of one invariant tells nothing new. */
const MOST_OF_EACH = 5;

export class Judge {
  readonly breaches: Breach[] = [];
  readonly faults = new Set<string>();
  #picture: Picture | null = null;
  #watches: readonly Watch[] = [];
  #nonce = '';
  #rest = '';
  #columns = new Map<string, number>();
  #momentMs = 0;

  /** @param invariants all when absent */
  constructor(private readonly invariants: readonly Invariant[] = OBSERVED) {}

  /** Names of the columns of the rows to come. */
  columns(names: readonly string[]): void {
    this.#columns = new Map(names.map((name, i) => [name, i]));
  }

  /** Journal text as it is written; lines may be cut anywhere. */
  text(chunk: string): void {
    const lines = (this.#rest + chunk).split('\n');
    this.#rest = lines.pop() ?? '';
    for (const line of lines) this.record(JSON.parse(line) as JournalRecord);
  }

  record(record: JournalRecord): void {
    this.entry(entryOf(record));
  }

  /** The same for a record whose line was read already: that is most of the work. */
  entry(entry: Entry): void {
    if (entry.k === 'header') this.#nonce = entry.b.nonce;
    if (entry.k === 'rig' && this.#picture === null) this.#begin(entry.b.rig as Rig);
    const picture = this.#picture;
    if (picture === null) return;
    if (entry.tMs > this.#momentMs) {
      for (const w of this.#watches) w.moment?.();
      this.#momentMs = entry.tMs;
    }
    picture.reach(entry.tMs);
    for (const w of this.#watches) w.entry?.(entry);
    picture.take(entry);
  }

  /** A row of the truth, at its place among the records. The array may be reused. */
  row(values: readonly number[]): void {
    const at = (column: string): number => {
      const i = this.#columns.get(column);
      if (i === undefined) throw new RangeError(`the truth has no column ${column}`);
      return values[i] ?? Number.NaN;
    };
    const row: Row = { tMs: at('tMs'), get: at };
    for (const w of this.#watches) w.row?.(row);
  }

  /**
   * Nothing more comes: the last verdicts.
   * @param told the outcome as told to people, where the journal could not take it
   * @param cut the journal ends in the middle: of its last moment some records may be missing, so nothing is held
   *   against what is not there
   */
  end(told: Told | null = null, cut = false): readonly Breach[] {
    if (!cut) for (const w of this.#watches) w.moment?.();
    for (const w of this.#watches) w.end?.(told);
    return this.breaches;
  }

  /** What the journal shows up to here; null before its rig. */
  get picture(): Picture | null {
    return this.#picture;
  }

  /** Invariants broken, each once. */
  get broken(): InvariantId[] {
    return [...new Set(this.breaches.map((b) => b.id))];
  }

  #begin(rig: Rig): void {
    const picture = new Picture(rig);
    this.#picture = picture;
    this.#watches = this.invariants.map(({ id, watch }) => {
      let count = 0;
      const context: Context = {
        rig,
        nonce: this.#nonce,
        picture,
        faults: this.faults,
        broken: (where, why, tMs = picture.nowMs) => {
          if (count++ < MOST_OF_EACH) this.breaches.push({ id, where, tMs, why });
        },
      };
      return watch(context);
    });
  }
}

export const tellBreach = ({ id, where, tMs, why }: Breach): string =>
  `${id} broken (${where}, ${(tMs / 1000).toFixed(3)} s): ${why}`;
