/**
 * One whole session through supervisor, codec, link and simulated device, and the edges of the machine it took, read
 * from its journal. All invariants are held against it, and in every state it stood in, the assertion of that state.
 */
import type { SessionFlags } from '../../../machines/vocabulary.js';
import { truthColumns } from '../../../simulators/truth.js';
import type { EventType } from '../../../src/audit/explore/subject.js';
import { Judge, tellBreach } from '../../../src/audit/judge.js';
import { filesInMemory } from '../../../src/host/durable-file.js';
import type { JournalRecord } from '../../../src/journal/format.js';
import { runJudged } from '../../../src/rehearsal/judged-run.js';
import { type StormCase, scenarioOf } from '../../../src/storm/case.js';
import { variant } from '../../../src/storm/rigs.js';
import { ASSERTIONS, type Stood } from './assertions.js';

/** A stay in one state: since when, and by which event it was left. */
export interface Visit {
  /** State value and flags, as the machine's own key. */
  readonly key: string;
  /** Path of the state, e.g. `closing.pole-p`. */
  readonly state: string;
  readonly flags: SessionFlags;
  readonly sinceMs: number;
  /** Infinity and null for the last one. */
  untilMs: number;
  left: EventType | null;
}

export interface Session {
  readonly visits: readonly Visit[];
  readonly edges: ReadonlySet<string>;
  /** Invariants broken, assertions that failed, a supervisor that failed; empty when all is well. */
  readonly wrong: readonly string[];
  readonly refusals: readonly string[];
  readonly truth: { mostPlugVAfter(tMs: number): number };
}

export const edgeId = (key: string, event: string): string => `${key} ${event}`;

const pathOf = (value: unknown): string =>
  typeof value === 'string'
    ? value
    : Object.entries(value as Record<string, string>)
        .flat()
        .join('.');

/** Reads the journal as it is written, and the truth beside it. */
class Reader extends Judge {
  readonly visits: Visit[] = [];
  readonly wrong: string[] = [];
  #event: EventType | null = null;
  #orders: { readonly tMs: number; readonly names: string[] } = { tMs: Number.NaN, names: [] };
  /** Visits whose assertion waits for the next row of the truth. */
  #waiting: { readonly visit: Visit; readonly orders: readonly string[] }[] = [];
  #index = new Map<string, number>();
  /** ms and volts between the plug's poles. */
  readonly #plug: { readonly tMs: number; readonly plugV: number }[] = [];

  constructor(flags: SessionFlags) {
    super();
    this.#stand('parked', flags, 0);
  }

  override columns(names: readonly string[]): void {
    this.#index = new Map(names.map((name, i) => [name, i]));
    super.columns(names);
  }

  override record(record: JournalRecord): void {
    const tMs = record.t / 1e6;
    if (record.k === 'order') this.#ordered(record.b as { orders: { name: string }[] }, tMs);
    if (record.k === 'event') this.#event = record.b as EventType;
    if (record.k === 'state') {
      const { value, flags } = record.b as { value: unknown; flags: SessionFlags };
      const last = this.visits.at(-1) as Visit;
      last.untilMs = tMs;
      last.left = this.#event;
      this.#stand(value, flags, tMs);
    }
    super.record(record);
  }

  override row(values: readonly number[]): void {
    super.row(values);
    const get = (column: string): number => values[this.#index.get(column) ?? -1] ?? Number.NaN;
    const tMs = get('tMs');
    this.#plug.push({ tMs, plugV: Math.abs(get('plugPositiveV') - get('plugNegativeV')) });
    this.#waiting = this.#waiting.filter(({ visit, orders }) => {
      if (tMs < visit.sinceMs) return true;
      // A state left before the bench moved on cannot be held against the bench.
      if (visit.untilMs > tMs) this.#hold(visit, orders, get);
      return false;
    });
  }

  mostPlugVAfter(tMs: number): number {
    return this.#plug.reduce((most, row) => (row.tMs >= tMs ? Math.max(most, row.plugV) : most), 0);
  }

  #ordered({ orders }: { orders: { name: string }[] }, tMs: number): void {
    if (this.#orders.tMs !== tMs) this.#orders = { tMs, names: [] };
    this.#orders.names.push(...orders.map((o) => o.name));
  }

  #stand(value: unknown, flags: SessionFlags, sinceMs: number): void {
    const key = JSON.stringify([value, flags]);
    const visit: Visit = {
      ...{ key, state: pathOf(value), flags, sinceMs },
      ...{ untilMs: Number.POSITIVE_INFINITY, left: null },
    };
    this.visits.push(visit);
    const orders = this.#orders.tMs === sinceMs ? this.#orders.names : [];
    this.#waiting.push({ visit, orders });
  }

  #hold(visit: Visit, orders: readonly string[], get: Stood['get']): void {
    const { state, flags, sinceMs } = visit;
    const why = ASSERTIONS[state]?.({ get, flags, orders }) ?? null;
    if (why !== null) this.wrong.push(`in ${state} at ${sinceMs.toFixed(0)} ms: ${why}`);
  }
}

export async function runReal(drawn: StormCase): Promise<Session> {
  const loaded = variant(drawn.base, drawn.set);
  const reader = new Reader({
    path: loaded.rig.converter.matchesVoltage ? 'match' : 'pre-charge',
    rafts: 'none',
    trip: 'none',
    // As the run loop gives it: only a start is asked of a machine that knows of the latch.
    latched: drawn.start.latched === true && drawn.first === 'start',
  });
  reader.columns(truthColumns(loaded.rig.battery.rafts.length));
  const run = await runJudged(
    {
      loaded,
      scenario: scenarioOf(drawn),
      order: drawn.first,
      stateDir: 'edges',
      latchFiles: filesInMemory(),
    },
    reader,
  );
  const { visits, wrong } = reader;
  wrong.push(...run.breaches.map(tellBreach));
  if (run.fault !== null) wrong.push(run.fault.stack ?? run.fault.message);
  const edges = visits.flatMap((v) => (v.left === null ? [] : [edgeId(v.key, v.left)]));
  const refusals = run.outcome.refusals.map((r) => r.code);
  return { visits, edges: new Set(edges), wrong, refusals, truth: reader };
}
