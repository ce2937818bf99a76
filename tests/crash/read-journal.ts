/** Reads a journal as a stranger would, from what is written at the head of src/journal/format.ts alone. */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { expect } from 'vitest';
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
      const hash = createHash('sha256')
        .update(previous + block)
        .digest('hex');
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

/** The record ends in what was printed; only the path of the record is no part of it. */
export function expectEnd(lines: readonly Line[], { journal: _, ...outcome }: Outcome): void {
  const ends = ofKind(lines, 'end');
  expect(ends).toHaveLength(1);
  expect(ends[0]?.b).toMatchObject(outcome);
}

/**
 * I11, read from the record: every frame with a durable order comes after a record of that order, and after the
 * store has confirmed that record. Returns what is wrong, and how many frames with durable orders were seen.
 */
export function durability(lines: readonly Line[]): { readonly wrong: string[]; readonly frames: number } {
  const wrong: string[] = [];
  /** Where each order was last recorded as waiting for the store; authorities are renewed, so the last counts. */
  const promised = new Map<string, number>();
  let syncedUpTo = -1;
  let frames = 0;
  for (const { n, k, b } of lines) {
    if (k === 'sync') syncedUpTo = Math.max(syncedUpTo, b);
    if (k !== 'order') continue;
    const durable = (b.orders as Order[]).filter((o) => ORDERS[o.name].permission === 'durable');
    if (b.durable === true) {
      for (const o of durable) promised.set(JSON.stringify(o), n);
      continue;
    }
    if (durable.length > 0) frames++;
    for (const o of durable) {
      const record = promised.get(JSON.stringify(o)) ?? Number.POSITIVE_INFINITY;
      if (!(record <= syncedUpTo))
        wrong.push(`${o.name} left at number ${n} (port ${b.port}, frame ${b.seq}) before it was durable`);
    }
  }
  return { wrong, frames };
}
