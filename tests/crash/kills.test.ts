/**
 * Sessions killed at random moments, in processes of their own on real files: nothing confirmed is lost, every
 * journal has a labelled row, and the next start is refused and orders nothing but safety. A hundred here;
 * `npm run acceptance:kills` does two thousand.
 */
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { Audit } from '../../src/audit/audit.js';
import { SOFTWARE } from '../../src/host/version.js';
import { LatchFile } from '../../src/journal/latch.js';
import { decodeToDevice } from '../../src/link/codec.js';
import type { Link } from '../../src/link/link.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';
import { ORDERS } from '../../src/rig/orders.js';
import { examine as read } from '../unit/journal/build.js';

const KILLS = Number(process.env.KILLS ?? 100);
const AT_ONCE = 2;
/** One in so many is decided anew as well. */
const REPLAYED = 5;
const SEED = 9;
/**
 * Killed after so many confirmations of the store, which a busy machine does not shift, and a moment more: most while
 * their session runs, some before it has begun, some after. A whole session has about this many.
 */
const CONFIRMATIONS = 70;
const MOMENT_MS = 12;
const CHILD = path.join(import.meta.dirname, 'kill-child.mjs');
const loaded = loadRig('depot-cable');

interface Killed {
  readonly folder: string;
  readonly confirmedBytes: number;
}

function kill(k: number, after: number, momentMs: number): Promise<Killed> {
  const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-kill-'));
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [CHILD, folder, String(k)], { stdio: ['ignore', 'pipe', 'pipe'] });
    let told = '';
    let complaints = '';
    child.stdout.on('data', (data: Buffer) => {
      const before = told.length;
      told += data.toString();
      const count = (text: string): number => text.split('\n').length - 1;
      if (count(told) > after && count(told.slice(0, before)) <= after)
        setTimeout(() => child.kill('SIGKILL'), momentMs);
    });
    child.stderr.on('data', (data: Buffer) => {
      complaints += data.toString();
    });
    child.on('close', () => {
      if (complaints !== '') reject(new Error(complaints));
      const lines = told.split('\n').filter((line) => line !== '' && told.includes(`${line}\n`));
      const confirmed = lines.filter((line) => /^\d+$/.test(line)).map(Number);
      resolve({ folder, confirmedBytes: confirmed.at(-1) ?? 0 });
    });
  });
}

interface Seen {
  readonly row: string;
  readonly energised: boolean;
}

/** What a second start in the same folder orders and ends in. */
async function nextStart(folder: string) {
  const energising: string[] = [];
  const orders: string[] = [];
  const wire = (links: readonly Link[]) =>
    links.map((link) => ({
      port: link.port,
      open: (on: Parameters<Link['open']>[0]) => link.open(on),
      send: (line: string) => {
        const { body } = decodeOrder(line);
        for (const name of body) {
          orders.push(name);
          if (ORDERS[name].permission === 'durable') energising.push(name);
        }
        return link.send(line);
      },
      close: () => link.close(),
    })) as unknown as readonly Link[];
  const { outcome } = await runVirtual({
    loaded,
    scenario: { seed: 1, start: {}, wish: { targetEnergyKwh: 0.01 }, inject: [], orders: [] } as never,
    stateDir: folder,
    journalPath: 'next',
    sink: { append: () => {}, close: async () => {} },
    wire,
  });
  return { outcome, energising, orders };
}

function decodeOrder(line: string): { readonly body: (keyof typeof ORDERS)[] } {
  const decoded = decodeToDevice(line);
  if (!decoded.ok || decoded.frame.body.verb !== 'order') return { body: [] };
  return { body: decoded.frame.body.orders.flatMap(({ name }) => (name === 'misfit' ? [] : [name])) };
}

async function examine({ folder, confirmedBytes }: Killed, replayed: boolean): Promise<Seen> {
  const file = path.join(folder, 'journal.ndjson');
  const bytes = existsSync(file) ? readFileSync(file) : Buffer.alloc(0);
  expect(bytes.length, 'bytes on disk against bytes confirmed').toBeGreaterThanOrEqual(confirmedBytes);
  const { row, chain } = read(bytes, { pieceBytes: 1 << 16 });
  // Killed behind its end and before the seal over it: honest, and rightly not taken for whole.
  expect(['empty', 'torn-tail', 'unfinished', 'unsealed-end', 'clean']).toContain(row);
  expect(chain.faults).toEqual([]);
  if (replayed) {
    const audit = new Audit({ software: SOFTWARE });
    audit.feed(bytes);
    expect(audit.end().diverged).not.toBe(true);
  }
  const latch = new LatchFile(folder, loaded.rig.name);
  const energised = latch.state.open?.energised === true;
  // A killed process loses nothing it wrote: an order that energises in the record means that the mark stands.
  if (!bytes.includes('"k":"end"')) expect(energised || !bytes.includes('"name":"close-p"')).toBe(true);
  if (energised) {
    const { outcome, energising, orders } = await nextStart(folder);
    expect(outcome.outcome).toBe('refused');
    expect(outcome.refusals.map(({ code }) => code)).toContain('unfinished-journal');
    expect(outcome.refusals.some(({ part }) => part?.includes('journal.ndjson'))).toBe(true);
    expect(energising).toEqual([]);
    expect(orders).toContain('make-safe');
  }
  return { row, energised };
}

describe('a session that is killed', () => {
  it(`loses nothing confirmed and is never resumed, ${KILLS} times`, async () => {
    const random = new SeededRandom(SEED);
    const drawn = Array.from({ length: KILLS }, () => ({
      after: random.uint32() % CONFIRMATIONS,
      momentMs: random.between(0, MOMENT_MS),
    }));
    const rows: Record<string, number> = {};
    let energised = 0;
    let next = 0;
    const one = async (): Promise<void> => {
      for (let k = next++; k < KILLS; k = next++) {
        const { after, momentMs } = drawn[k] as (typeof drawn)[number];
        const killed = await kill(k, after, momentMs);
        const seen = await examine(killed, k % REPLAYED === 0);
        rows[seen.row] = (rows[seen.row] ?? 0) + 1;
        if (seen.energised) energised++;
        rmSync(killed.folder, { recursive: true });
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, one));
    if (KILLS > 100) console.table({ ...rows, 'energised when killed': energised });
    // Otherwise these kills proved little.
    expect(energised).toBeGreaterThan(KILLS / 5);
    expect(Object.keys(rows).sort()).toEqual(expect.arrayContaining(['unfinished']));
  }, 3_600_000);
});
