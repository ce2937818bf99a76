/** One record of a journal as the audit walks it: its body by kind, received lines read. */
import type { JournalRecord, RecordKind } from '../journal/format.js';
import { type ReadLine, readLine } from './line-reader.js';

/** An order as journaled: name and arguments. */
export interface JournaledOrder {
  readonly name: string;
  readonly args: Readonly<Record<string, number>>;
}

export interface Entry {
  readonly n: number;
  /** ms since the header. */
  readonly tMs: number;
  readonly k: RecordKind;
  // biome-ignore lint/suspicious/noExplicitAny: the shape of a body follows from its kind
  readonly b: any;
  /** Of a `frame`. */
  readonly port: number;
  readonly line: ReadLine | null;
  /** Of an `order` that left (or was handed to a port that could not take it). */
  readonly sent: readonly JournaledOrder[];
}

const NONE: readonly JournaledOrder[] = [];

export function entryOf(record: JournalRecord): Entry {
  const { n, t, k } = record;
  // biome-ignore lint/suspicious/noExplicitAny: see above
  const b = record.b as any;
  return {
    n,
    tMs: t / 1e6,
    k,
    b,
    port: k === 'frame' ? (b[0] as number) : -1,
    line: k === 'frame' ? readLine(b[1] as string) : null,
    sent: k === 'order' && b.durable !== true ? (b.orders as JournaledOrder[]) : NONE,
  };
}
