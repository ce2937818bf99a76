/**
 * Watches a simulated session and its audit as they run, and at the end holds every margin and every extreme of the
 * audit against the truth of the bench at the instant of the reading that made it one.
 */
import type { Injection } from '../../simulators/faults.js';
import type { TrueReadingSink } from '../../simulators/truth.js';
import type { AuditResult } from '../audit/audit.js';
import type { Entry } from '../audit/entry.js';
import type { Margin } from '../audit/margins.js';
import type { Rig } from '../rig/schema.js';
import { FIGURES, type Figure } from './margin-truth.js';
import { type Taken, TruthBook } from './truth-book.js';

const CURRENT = ['meter.currentA', 'meter.currentMinA', 'meter.currentMaxA'];
const sideVolts = (side: string): string[] =>
  ['V', 'MinV', 'MaxV', 'PositiveV', 'NegativeV'].map((kind) => `meter.${side}${kind}`);
const ALL_VOLTS = [...sideVolts('output'), ...sideVolts('plug')];

/** A fault that makes a sensor tell what is not, and the readings it falsifies: these alone are not held against the truth. */
const FALSIFIED: Readonly<Record<string, (part: string) => readonly string[]>> = {
  // Off by its magnitude: that is the fault.
  'meter-gain': (part) => (part === 'voltage' ? ALL_VOLTS : CURRENT),
  // Reads nothing but its own zero.
  'voltmeter-dead': (part) => (part === 'output' || part === 'plug' ? sideVolts(part) : ALL_VOLTS),
  // Has lost its contact and reads the air.
  'contact-sensor-blind': () => ['meter.contactC'],
};

/** What a session counts by its own clock: no instrument read it, so the bench has no truth of it. */
export const TIMED: readonly string[] = [
  'isolation-unproven',
  'journal-lag',
  'link-silent',
  'pole-not-closed',
  'raft-silent',
  'reading-stale',
];

/** Readings are multiples of a scale: between a margin and the readings it stands on lies rounding alone. */
const ROUNDING = 1e-9;

export interface Compared {
  readonly margins: number;
  readonly extremes: number;
  /** Of readings a fault falsifies. */
  readonly falsified: number;
  /** Of times. */
  readonly timed: number;
  /** Greatest difference as a share of what it may be, by margin code or by field, e.g. `raft.cellMaxV`. */
  readonly worst: ReadonlyMap<string, number>;
  readonly wrong: readonly string[];
}

interface Seen {
  readonly read: number;
  readonly value: number;
  readonly off: number;
  readonly tMs: number;
}
interface Outermost {
  least: Seen;
  most: Seen;
}

export class TruthWitness {
  readonly #book: TruthBook;
  readonly #margins = new Map<string, { readonly atMs: number; readonly figures: readonly Figure[] }>();
  readonly #extremes = new Map<string, Outermost>();

  constructor(rig: Rig, inject: readonly Pick<Injection, 'fault' | 'part'>[]) {
    const broken = inject.flatMap(({ fault, part }) => FALSIFIED[fault]?.(part ?? '') ?? []);
    this.#book = new TruthBook(rig, new Set(broken), (role, taken) => this.#sample(role, taken));
  }

  /** For the bench. */
  get truth(): TrueReadingSink {
    return this.#book.truth;
  }

  /** For the audit: each record as it is read. */
  readonly look = (entry: Entry): void => this.#book.entry(entry);

  /** For the audit: each margin as it becomes the nearest. Only then is there still the truth to work it out from. */
  readonly nearer = (margin: Margin): void => {
    const truth = FIGURES[margin.code];
    if (truth !== undefined)
      this.#margins.set(keyOf(margin), { atMs: margin.atMs, figures: truth(margin, this.#book) });
  };

  #sample(role: string, { read, truth, tMs }: Taken): void {
    for (const field in truth) {
      const value = truth[field] as number;
      const reading = read[field];
      if (reading === undefined || Number.isNaN(reading)) continue;
      const name = `${role}.${field}`;
      const known = this.#extremes.get(name);
      if (known !== undefined && !(reading < known.least.read) && !(reading > known.most.read)) continue;
      const seen = { read: reading, value, off: this.#book.mayDiffer(role, field, value), tMs };
      if (known === undefined) this.#extremes.set(name, { least: seen, most: seen });
      else if (reading < known.least.read) known.least = seen;
      else known.most = seen;
    }
  }

  /** What the audit came to against what was. */
  compare({ margins, extremes }: Pick<AuditResult, 'margins' | 'extremes'>): Compared {
    const worst = new Map<string, number>();
    const wrong: string[] = [];
    const count = { margins: 0, extremes: 0, falsified: 0, timed: 0 };
    const note = (key: string, share: number): void => {
      worst.set(key, Math.max(worst.get(key) ?? 0, share));
    };
    for (const margin of margins) {
      if (TIMED.includes(margin.code)) count.timed++;
      else {
        const share = this.#marginShare(margin);
        if (share === 0 && this.#isFalsified(margin)) count.falsified++;
        else count.margins++;
        if (share <= 1) note(margin.code, share);
        else wrong.push(this.#tellMargin(margin));
      }
    }
    for (const { field, least, leastAtMs, most, mostAtMs } of extremes) {
      const known = this.#extremes.get(field);
      for (const [what, read, tMs, seen] of [
        ['least', least, leastAtMs, known?.least],
        ['greatest', most, mostAtMs, known?.most],
      ] as const) {
        // A raft without cells has none to tell.
        if (known === undefined && this.#hasNoTruth(field)) continue;
        if (seen?.off === Number.POSITIVE_INFINITY) {
          count.falsified++;
          continue;
        }
        count.extremes++;
        const share =
          seen !== undefined && seen.tMs === tMs && seen.read === read
            ? Math.abs(read - seen.value) / seen.off
            : Number.NaN;
        if (share <= 1) note(field.replace(/^raft\d/, 'raft'), share);
        else wrong.push(`${what} ${field} ${read} at ${tMs} ms on the record, ${seen?.value} on the bench`);
      }
    }
    return { ...count, worst, wrong };
  }

  #hasNoTruth(field: string): boolean {
    const raft = /^raft(\d)\./.exec(field)?.[1];
    return raft !== undefined && this.#book.rig.battery.rafts[Number(raft) - 1]?.kind !== 'battery';
  }

  #figures(margin: Margin): readonly Figure[] {
    const known = this.#margins.get(keyOf(margin));
    return known?.atMs === margin.atMs ? known.figures : [];
  }

  #isFalsified(margin: Margin): boolean {
    return this.#figures(margin).some(({ above }) => above === Number.POSITIVE_INFINITY);
  }

  /** Of what it may be off; NaN where no figure of the bench is the one it stands on. */
  #marginShare(margin: Margin): number {
    let least = Number.NaN;
    for (const { value, read, below, above } of this.#figures(margin)) {
      const { reading } = margin;
      if (read !== null && !(Math.abs(reading - read) <= ROUNDING * (1 + Math.abs(read)))) continue;
      const by = reading - value;
      const share = by === 0 ? 0 : Math.abs(by) / (by < 0 ? below : above);
      if (!(share >= least)) least = share;
    }
    return least;
  }

  #tellMargin(margin: Margin): string {
    const { code, part, reading, unit, atMs } = margin;
    const bench = this.#figures(margin).map(({ value }) => value.toPrecision(6));
    const what = bench.length === 0 ? 'nothing to hold it against' : bench.join(' or ');
    return `margin of ${code}${part === null ? '' : ` (${part})`} ${reading} ${unit} at ${atMs} ms on the record, ${what} on the bench`;
  }
}

const keyOf = ({ code, part }: Pick<Margin, 'code' | 'part'>): string => `${code} ${part ?? ''}`;
