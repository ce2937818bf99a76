/** Makes the rows of all tables but `sessions` from the records of one journal. */
import type { Entry } from '../audit/entry.js';
import { Events } from '../audit/events.js';
import type { JournalHeader } from '../journal/format.js';
import { ROLES, type Role } from '../rig/roles.js';
import { ARGUMENTS, type Cell, columnsOf, readingsTable, TABLES } from './tables.js';

export type Take = (table: string, row: Cell[]) => void;

const LONGEST_TEXT = 10_000;
export const text = (value: unknown): Cell =>
  typeof value === 'string'
    ? value.slice(0, LONGEST_TEXT)
    : value === null || value === undefined
      ? null
      : String(value);
export const figure = (value: unknown): Cell =>
  typeof value === 'number' && Number.isFinite(value) ? value : null;
/** As wide as the column; a counter beyond it is none of ours. */
export const whole = (value: unknown): Cell =>
  typeof value === 'number' && Number.isInteger(value) && Math.abs(value) < 2 ** 31 ? value : null;
export const yes = (value: unknown): Cell => (typeof value === 'boolean' ? value : null);

/** Fields of a role in the order of its table, and whether each is a whole number. */
const FIELDS = new Map(
  TABLES.filter(({ name }) => name.startsWith('readings_')).map((table) => [
    table.name,
    columnsOf(table)
      .filter(({ name }) =>
        ROLES[table.name.slice('readings_'.length) as Role].fields.some((f) => f.name === name),
      )
      .map(({ name, type }) => ({ name, isWhole: type === 'INTEGER' })),
  ]),
);

/** For a header without a wall time. */
export const NO_MONTH = 'unknown';
/** No calendar goes further. */
export const LATEST_MS = 8.64e15;

export class Rows {
  readonly #events = new Events();
  #clockMs = Number.NaN;
  #clockAtMs = 0;

  /** @param wanted tables that are not asked for cost nothing */
  constructor(
    private readonly journal: string,
    private readonly rig: string,
    private readonly month: string,
    private readonly wanted: ReadonlySet<string>,
    private readonly give: Take,
  ) {}

  take(entry: Entry): void {
    const { k, b, tMs, line } = entry;
    if (k === 'header') this.#clock((b as JournalHeader).wallMs, tMs);
    if (k === 'clock') this.#clock(b.wallMs, tMs);
    if (line?.verb === 'report') this.#report(entry);
    if (k === 'finding')
      this.#row('findings', entry, [text(b.code), text(b.part), yes(b.failing), ...found(b)]);
    if (k === 'refusal')
      this.#row('refusals', entry, [
        text(b.asked),
        text(b.by),
        text(b.code),
        text(b.part),
        ...found(b),
        text(b.text),
        text(b.remedy),
      ]);
    for (const { name, args } of entry.sent)
      this.#row('orders', entry, [
        whole(b.port),
        whole(b.seq),
        yes(b.sent),
        text(name),
        ...[...ARGUMENTS.keys()].map((argument) => figure(args[argument])),
      ]);
    if (!this.wanted.has('events')) return;
    this.#events.take(entry);
    for (const { kind, text: what } of this.#events.drain()) this.#row('events', entry, [kind, text(what)]);
  }

  #clock(wallMs: unknown, tMs: number): void {
    if (typeof wallMs !== 'number' || !Number.isFinite(wallMs)) return;
    this.#clockMs = wallMs;
    this.#clockAtMs = tMs;
  }

  #report({ n, tMs, port, line }: Entry): void {
    for (const [name, values] of line?.roles ?? []) {
      const isRaft = name.startsWith('raft');
      const table = readingsTable(isRaft ? 'raft' : (name as Role));
      if (!this.wanted.has(table)) continue;
      const row: Cell[] = [this.rig, this.month, this.journal, whole(n), tMs, this.#at(tMs), whole(port)];
      if (isRaft) row.push(Number(name.slice('raft'.length)));
      for (const { name: field, isWhole } of FIELDS.get(table) ?? [])
        row.push(isWhole ? whole(values[field]) : figure(values[field]));
      this.give(table, row);
    }
  }

  #row(table: string, { n, tMs }: Entry, rest: Cell[]): void {
    if (!this.wanted.has(table)) return;
    this.give(table, [this.rig, this.month, this.journal, whole(n), tMs, this.#at(tMs), ...rest]);
  }

  #at(tMs: number): Cell {
    const atMs = this.#clockMs + tMs - this.#clockAtMs;
    return Math.abs(atMs) < LATEST_MS ? atMs : null;
  }
}

const found = (b: { reading: unknown; limit: unknown; unit: unknown; setting: unknown }): Cell[] => [
  figure(b.reading),
  figure(b.limit),
  text(b.unit),
  text(b.setting),
];
