/**
 * Journals into tables of the engine. What turns out not to be intact is left out, or taken back, so that every figure
 * in the tables is one that was recorded. Its row in `sessions` stays and says what is wrong.
 */
import path from 'node:path';
import { Audit, type AuditResult } from '../audit/audit.js';
import type { Entry } from '../audit/entry.js';
import { pieces } from '../host/big-file.js';
import { isoOf } from '../host/clock.js';
import { SOFTWARE } from '../host/version.js';
import { type Appender, appenderTo, type Connection, quotedName } from './engine.js';
import { journalsBelow } from './gather.js';
import { CARRIED_OUT, SessionWatch } from './one.js';
import { figure, LATEST_MS, NO_MONTH, Rows, text, whole, yes } from './rows.js';
import { type Cell, columnsOf, TABLES, type Table } from './tables.js';

/** Holds the tables with wall times still in ms. */
const RAW = 'raw';

export interface Loaded {
  readonly journals: number;
  readonly rows: Readonly<Record<string, number>>;
  /** Files that are not in the tables, or only as a row of `sessions`. */
  readonly problems: readonly { readonly file: string; readonly row: string; readonly what: string }[];
}

const rawColumns = (table: Table): string =>
  columnsOf(table)
    .map(({ name, type }) => `${quotedName(name)} ${type === 'TIMESTAMP' ? 'DOUBLE' : type}`)
    .join(', ');
const shownColumns = (table: Table): string =>
  columnsOf(table)
    .map(({ name, type }) =>
      type === 'TIMESTAMP'
        ? `make_timestamp(CAST(round(1000 * ${quotedName(name)}) AS BIGINT)) AS ${quotedName(name)}`
        : quotedName(name),
    )
    .join(', ');

/** What makes empty tables, and the views by which they are seen. */
export const SCHEMA: readonly string[] = [
  `CREATE SCHEMA ${RAW}`,
  ...TABLES.flatMap((table) => [
    `CREATE TABLE ${RAW}.${table.name} (${rawColumns(table)})`,
    `CREATE VIEW ${table.name} AS SELECT ${shownColumns(table)} FROM ${RAW}.${table.name}`,
  ]),
];

export interface LoadOptions {
  readonly folder: string;
  /** Tables to fill; the others stay empty. */
  readonly wanted: ReadonlySet<string>;
  /** More rows than this of one journal are not held in memory. */
  readonly mostHeld?: number;
  onProgress(done: number, of: number): void;
}

const MOST_HELD = 100_000;
/** The engine's appenders would keep more in memory, each for itself and beside its limit. */
const FLUSH_ROWS = 100_000;

/** @throws InputError when there is no journal */
export async function loadJournals(connection: Connection, options: LoadOptions): Promise<Loaded> {
  const { folder, wanted, onProgress, mostHeld = MOST_HELD } = options;
  const found = journalsBelow(folder);
  for (const statement of SCHEMA) await connection.run(statement);
  const into = new Map<string, Appender>();
  for (const table of TABLES) {
    const types = columnsOf(table).map(({ type }) => type);
    if (wanted.has(table.name)) into.set(table.name, await appenderTo(connection, RAW, table.name, types));
  }
  const rows = new Map<string, number>([...into.keys()].map((name) => [name, 0]));
  const problems: { file: string; row: string; what: string }[] = [];
  let sinceFlush = 0;
  for (const [k, { file, trouble }] of found.entries()) {
    if (trouble !== undefined) problems.push({ file, row: 'unreadable', what: trouble });
    else {
      const one = new OneJournal(path.relative(folder, file).split(path.sep).join('/'), wanted);
      const held = new Held(connection, into, one.rows, mostHeld);
      const problem = await one.read(file, held);
      for (const [table, count] of await held.end(one.keep)) {
        rows.set(table, (rows.get(table) ?? 0) + count);
        sinceFlush += count;
      }
      if (sinceFlush > FLUSH_ROWS) {
        for (const appender of into.values()) appender.flush();
        sinceFlush = 0;
      }
      if (problem !== null) problems.push({ file, ...problem });
      if (one.session !== null && wanted.has('sessions')) {
        into.get('sessions')?.add(one.session);
        rows.set('sessions', (rows.get('sessions') ?? 0) + 1);
      }
    }
    onProgress(k + 1, found.length);
  }
  for (const appender of into.values()) {
    appender.flush();
    appender.close();
  }
  return { journals: found.length, rows: Object.fromEntries(rows), problems };
}

interface Pending {
  readonly table: string;
  readonly row: Cell[];
}

/**
 * The rows of one journal until its end shows whether they may stay: in memory, and of a long one in a transaction
 * that can be taken back. One for each would cost more than all the reading.
 */
class Held {
  readonly #counts = new Map<string, number>();
  #open = false;
  /** The engine failed, which is no fault of the journal. */
  failed = false;

  constructor(
    private readonly connection: Connection,
    private readonly into: ReadonlyMap<string, Appender>,
    private readonly rows: Pending[],
    private readonly most: number,
  ) {}

  /** To be called between pieces of the file. */
  async spill(): Promise<void> {
    if (this.rows.length < this.most) return;
    try {
      // What other journals gave must not be within it.
      if (!this.#open) await this.#begin();
      this.#hand();
      this.#flush();
    } catch (error) {
      this.failed = true;
      throw error;
    }
  }

  /** @returns rows that stay, by table */
  async end(keep: boolean): Promise<ReadonlyMap<string, number>> {
    if (keep) this.#hand();
    else this.rows.length = 0;
    if (this.#open) {
      this.#flush();
      await this.connection.run(keep ? 'COMMIT' : 'ROLLBACK');
    }
    return keep ? this.#counts : new Map();
  }

  async #begin(): Promise<void> {
    this.#flush();
    await this.connection.run('BEGIN');
    this.#open = true;
  }

  #hand(): void {
    for (const { table, row } of this.rows) {
      this.into.get(table)?.add(row);
      this.#counts.set(table, (this.#counts.get(table) ?? 0) + 1);
    }
    this.rows.length = 0;
  }

  #flush(): void {
    for (const appender of this.into.values()) appender.flush();
  }
}

/** Month of a wall time, UTC. */
export const monthOf = (wallMs: unknown): string =>
  typeof wallMs === 'number' && Math.abs(wallMs) < LATEST_MS ? isoOf(wallMs).slice(0, 7) : NO_MONTH;

class OneJournal {
  /** Its rows may stay. */
  keep = false;
  session: Cell[] | null = null;
  /** Made and not yet handed on. */
  readonly rows: Pending[] = [];
  #made: Rows | null = null;
  readonly #watch = new SessionWatch();

  constructor(
    private readonly journal: string,
    private readonly wanted: ReadonlySet<string>,
  ) {}

  /** @returns what is wrong with it */
  async read(file: string, held: Held): Promise<{ row: string; what: string } | null> {
    try {
      const audit = new Audit({ software: SOFTWARE, replay: false, look: (entry) => this.#take(entry) });
      for (const piece of pieces(file)) {
        audit.feed(piece);
        await held.spill();
      }
      const a = audit.end();
      this.keep = a.intact && a.header !== null;
      const { row, damage } = a;
      if (a.header !== null && row !== 'not-a-journal') this.session = this.#sessionRow(a);
      const broken = a.invariantsBroken.length > 0 ? [`${a.invariantsBroken.join(', ')} broken`] : [];
      const what = [...damage.slice(0, 1), ...broken].join('; ');
      return row === 'clean' && what === '' ? null : { row, what };
    } catch (error) {
      if (held.failed) throw error;
      return { row: 'unreadable', what: error instanceof Error ? error.message : String(error) };
    }
  }

  #take(entry: Entry): void {
    this.#watch.take(entry);
    if (entry.k === 'header' && this.#made === null) {
      const { rig, wallMs } = entry.b;
      this.#made = new Rows(this.journal, String(rig), monthOf(wallMs), this.wanted, (table, row) => {
        this.rows.push({ table, row });
      });
    }
    this.#made?.take(entry);
  }

  #sessionRow(a: AuditResult): Cell[] {
    const { header, outcome, trip, energy } = a;
    const { figures } = this.#watch;
    const sound = a.intact;
    const { loopSeriesOhm, loopLeakageUs, isolationChargerOhm, isolationCableOhm } = figures.result;
    const told = sound ? outcome : null;
    const ledger = sound ? energy : null;
    const tripped = sound ? trip : null;
    const ifSound = (value: number | null): Cell => (sound ? figure(value) : null);
    return [
      text(header?.rig),
      monthOf(header?.wallMs),
      this.journal,
      a.row,
      sound,
      a.damage[0] ?? '',
      a.signed,
      text(header?.nonce),
      text(header?.software),
      text(header?.rigHash),
      text(header?.clock),
      text(header?.by),
      Math.abs(Number(header?.wallMs)) < LATEST_MS ? figure(header?.wallMs) : null,
      whole(a.records),
      told !== null && a.carriedOut !== null ? CARRIED_OUT : text(told?.outcome),
      text(told?.endReason),
      yes(told?.endState?.provenDead),
      figure(told?.durationS),
      figure(ledger?.toldKwh),
      figure(ledger?.toBatteryKwh),
      figure(ledger?.fromSupplyKwh),
      figure(ledger?.lossesKwh.converter),
      figure(ledger?.lossesKwh.cableAndContacts),
      figure(ledger?.lossesKwh.train),
      figure(told?.peakCurrentA),
      figure(told?.peakRampAPerS),
      figure(told?.socStart),
      figure(told?.socEnd),
      figure(told?.residualVoltageAtReleaseV),
      text(tripped?.code),
      text(tripped?.part),
      text(tripped?.phase),
      ifSound(loopSeriesOhm),
      ifSound(loopLeakageUs),
      ifSound(isolationChargerOhm),
      ifSound(isolationCableOhm),
      a.invariantsBroken.join(','),
    ];
  }
}
