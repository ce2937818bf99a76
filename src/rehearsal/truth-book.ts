/**
 * Puts every journaled reading beside what was true on the bench at the instant it was taken: the device's own clock
 * in the line says when, the bench's record of the truth what. Kept for as long as a check may look back, so memory
 * does not grow with the session.
 */
import type { TrueReadingSink } from '../../simulators/truth.js';
import type { Entry } from '../audit/entry.js';
import type { Values } from '../audit/line-reader.js';
import type { Rig } from '../rig/schema.js';
import { mayDiffer } from './accuracy.js';

/** One sample of one role, as journaled and as it was. */
export interface Taken {
  /** When its line was journaled, and when it was sampled by the device's clock, ms. */
  readonly tMs: number;
  readonly atMs: number;
  readonly read: Values;
  readonly truth: Values;
}

interface True {
  readonly atMs: number;
  readonly values: Values;
}

/** The meter's minima and maxima are since the last report, and put together from every read since. */
const LEAST = ['currentMinA', 'outputMinV', 'plugMinV'] as const;
const MOST = ['currentMaxA', 'outputMaxV', 'plugMaxV'] as const;

export class TruthBook {
  readonly #true = new Map<string, True[]>();
  readonly #taken = new Map<string, Taken[]>();
  /** Of each port: device clock of its last report on the journal. */
  readonly #lastMs = new Map<number, number>();
  readonly #keepMs: number;
  /** When the current was first let rise, on the journal; Infinity before. */
  rampingSinceMs = Number.POSITIVE_INFINITY;

  /**
   * @param broken readings a scenario falsifies, as `meter.currentA`: they may be anything
   * @param newSample sees every new sample
   */
  constructor(
    readonly rig: Rig,
    private readonly broken: ReadonlySet<string>,
    private readonly newSample: (role: string, taken: Taken) => void,
  ) {
    // A slow reading may be this old, and is held against everything the fast ones showed since.
    this.#keepMs = 2 * rig.link.slowReadingMs + 1000;
  }

  /** The bench's record of the truth goes in here. */
  readonly truth: TrueReadingSink = (role, atMs, values) => {
    const list = listOf(this.#true, role);
    list.push({ atMs, values });
    if (list.length > 64 && list[0]!.atMs < atMs - this.#keepMs - 1000) list.splice(0, 32);
  };

  /** The journal, record by record, goes in here. */
  entry({ k, b, line, port, tMs }: Entry): void {
    if (k === 'state' && 'ramping' === phaseOf(b.value))
      this.rampingSinceMs = Math.min(this.rampingSinceMs, tMs);
    if (line?.verb !== 'report') return;
    const atMs = line.roles.get('device')?.clockMs ?? Number.NaN;
    for (const [role, read] of line.roles) if (role !== 'device') this.#take(role, read, tMs, atMs, port);
    this.#lastMs.set(port, atMs);
  }

  #take(role: string, read: Values, tMs: number, atMs: number, port: number): void {
    const list = listOf(this.#taken, role);
    const last = list.at(-1);
    // A counter that stands tells the sample of before.
    if (last !== undefined && last.read.sample === read.sample) return;
    const found = this.#true.get(role)?.findLast((t) => t.atMs === atMs);
    if (found === undefined) return;
    const { periodMs } = this.rig.link;
    // Reports that never came took their minima and maxima with them.
    const whole = this.#lastMs.get(port) === atMs - periodMs && last !== undefined;
    const truth = role === 'meter' ? this.#since(found, whole ? last.atMs : atMs - periodMs) : found.values;
    const taken = { tMs, atMs, read, truth };
    list.push(taken);
    if (list.length > 64 && list[0]!.tMs < tMs - this.#keepMs) list.splice(0, 32);
    this.newSample(role, taken);
  }

  #since({ atMs, values }: True, fromMs: number): Values {
    const whole: Record<string, number> = { ...values };
    for (const each of this.#true.get('meter') ?? []) {
      if (!(each.atMs > fromMs && each.atMs <= atMs)) continue;
      for (const field of LEAST) whole[field] = Math.min(whole[field]!, each.values[field]!);
      for (const field of MOST) whole[field] = Math.max(whole[field]!, each.values[field]!);
    }
    return whole;
  }

  /** By how much a reading may differ from this true value; NaN where no truth is known. */
  mayDiffer(role: string, field: string, trueValue: number): number {
    return this.broken.has(`${role}.${field}`) ? Number.POSITIVE_INFINITY : mayDiffer(role, field, trueValue);
  }

  /** The newest sample journaled up to then. */
  at(role: string, tMs: number): Taken | null {
    return this.#taken.get(role)?.findLast((taken) => taken.tMs <= tMs) ?? null;
  }

  /** All samples journaled in this span, the oldest first, its beginning left out. */
  between(role: string, afterMs: number, toMs: number): readonly Taken[] {
    return (this.#taken.get(role) ?? []).filter(({ tMs }) => tMs > afterMs && tMs <= toMs);
  }
}

const phaseOf = (value: string | Record<string, string>): string | undefined =>
  typeof value === 'string' ? value : Object.keys(value)[0];

function listOf<T>(map: Map<string, T[]>, key: string): T[] {
  const list = map.get(key);
  if (list !== undefined) return list;
  const made: T[] = [];
  map.set(key, made);
  return made;
}
