/** Reads a journal as a stranger would, from src/journal/FORMAT.md alone. */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { expect } from 'vitest';
import { I11 } from '../../src/audit/invariants/i11-journal.js';
import { Judge, tellBreach } from '../../src/audit/judge.js';
import type { JournalRecord } from '../../src/journal/format.js';
import { ORDERS, type Order } from '../../src/rig/orders.js';
import type { Outcome } from '../../src/supervisor/outcome.js';

export interface Line {
  readonly n: number;
  readonly t: number;
  readonly k: string;
  // biome-ignore lint/suspicious/noExplicitAny: a stranger knows the shape of a body only by its kind
  readonly b: any;
}

/** Numbers without gaps, time that never falls, and every seal right; what follows the last seal is counted. */
export function readJournal(file: string): { readonly lines: readonly Line[]; readonly unsealed: number } {
  const text = readFileSync(file, 'utf8');
  if (!text.endsWith('\n')) throw new Error(`${file} ends within a record`);
  const raw = text.slice(0, -1).split('\n');
  const lines = raw.map((line) => JSON.parse(line) as Line);
  let previous = '0'.repeat(64);
  let block = '';
  let lastT = 0;
  let unsealed = 0;
  for (const [i, { n, t, k, b }] of lines.entries()) {
    if (n !== i) throw new Error(`line ${i + 1} has number ${n}`);
    if (t < lastT) throw new Error(`time falls at number ${n}`);
    lastT = t;
    unsealed++;
    if (k === 'seal') {
      const opening = `${(raw[i] as string).split('"hash":"', 1)[0]}"hash":"`;
      const hash = createHash('sha256').update(`${previous}${block}${opening}`).digest('hex');
      if (hash !== b.hash) throw new Error(`the seal at number ${n} does not fit`);
      previous = hash;
      block = '';
      unsealed = 0;
    }
    block += `${raw[i]}\n`;
  }
  return { lines, unsealed };
}

export const ofKind = (lines: readonly Line[], kind: string): Line[] => lines.filter((l) => l.k === kind);

/** The record ends in what was printed; only its own path and last seal are no part of it. */
export function expectEnd(lines: readonly Line[], printed: Outcome): void {
  const { journal: _, journalHead: __, ...outcome } = printed as Outcome & { readonly journalHead: string };
  const ends = ofKind(lines, 'end');
  expect(ends).toHaveLength(1);
  expect(ends[0]?.b).toMatchObject(outcome);
}

/**
 * I11 by its one definition, on the record: every frame with a durable order comes after a record of that order, and after the
 * store has confirmed that record. Returns what is wrong, and how many frames with durable orders were seen.
 */
export function durability(lines: readonly Line[]): { readonly wrong: string[]; readonly frames: number } {
  const judge = new Judge([I11]);
  for (const line of lines) judge.record(line as JournalRecord);
  const isDurable = (o: Order): boolean => ORDERS[o.name].permission === 'durable';
  const frames = ofKind(lines, 'order').filter(
    (l) => !l.b.durable && (l.b.orders as Order[]).some(isDurable),
  );
  return { wrong: judge.end().map(tellBreach), frames: frames.length };
}
