/**
 * Power loss, which killing a process does not show: what was appended and not synced is dropped, torn or put out of
 * order. What the store had confirmed must stand whatever happens to the rest, and no energising frame may leave
 * before the record of its order is among it.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { Clock } from '../../src/host/clock.js';
import { filesInMemory } from '../../src/host/durable-file.js';
import type { JournalStore } from '../../src/host/journal-store.js';
import { decodeToDevice } from '../../src/link/codec.js';
import type { Link } from '../../src/link/link.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';
import { ORDERS } from '../../src/rig/orders.js';
import { examine } from '../unit/journal/build.js';

const CRASHES = 300;
const SYNC_MS = 3;

/** What happened, in order. */
type Step =
  | { readonly kind: 'append'; readonly text: string }
  | { readonly kind: 'sync-begun' }
  | { readonly kind: 'sync-done'; readonly upToAppend: number }
  | { readonly kind: 'confirmed' }
  | { readonly kind: 'frame'; readonly line: string };

/** A disk that keeps a diary. `sloppy` ones break their promise: they are what the tests must catch. */
class Diary {
  readonly steps: Step[] = [];
  #appends = 0;

  constructor(private readonly sloppy: 'no' | 'never-syncs' | 'syncs-later' = 'no') {}

  store(clock: Clock, path: string): JournalStore {
    const made = (): void => {
      this.steps.push({ kind: 'sync-done', upToAppend: this.#appends });
    };
    return {
      path,
      append: (text) => {
        this.#appends++;
        this.steps.push({ kind: 'append', text });
      },
      sync: (done) => {
        const upToAppend = this.#appends;
        this.steps.push({ kind: 'sync-begun' });
        if (this.sloppy === 'syncs-later') clock.after(SYNC_MS + 5, made);
        clock.after(SYNC_MS, () => {
          if (this.sloppy === 'no') this.steps.push({ kind: 'sync-done', upToAppend });
          this.steps.push({ kind: 'confirmed' });
          done(null);
        });
      },
      close: async () => {},
    };
  }

  /** Notes every frame the moment it is handed to the line. */
  wire(links: readonly Link[]): readonly Link[] {
    return links.map((link) => ({
      port: link.port,
      open: (on: Parameters<Link['open']>[0]) => link.open(on),
      send: (line: string) => {
        this.steps.push({ kind: 'frame', line });
        return link.send(line);
      },
      close: () => link.close(),
    })) as unknown as readonly Link[];
  }

  /** Text that survives for certain when power is lost before step `at`, and the appends that may not. */
  at(at: number): { readonly durable: string; readonly loose: readonly string[] } {
    const appends: string[] = [];
    let safe = 0;
    for (const step of this.steps.slice(0, at)) {
      if (step.kind === 'append') appends.push(step.text);
      if (step.kind === 'sync-done') safe = Math.max(safe, step.upToAppend);
    }
    return { durable: appends.slice(0, safe).join(''), loose: appends.slice(safe) };
  }
}

async function session(diary: Diary): Promise<void> {
  await runVirtual({
    loaded: loadRig('depot-cable'),
    scenario: { seed: 3, start: {}, wish: { targetEnergyKwh: 0.03 }, inject: [], orders: [] } as never,
    stateDir: 'memory',
    latchFiles: filesInMemory(),
    journalPath: 'journal',
    sink: { append: () => {}, close: async () => {} },
    newStore: (clock, path) => diary.store(clock, path),
    wire: (links) => diary.wire(links),
  });
}

/** Orders of a frame that must be durable before it leaves, as the journal writes them. */
function durableOrders(line: string): string[] {
  const decoded = decodeToDevice(line);
  if (!decoded.ok || decoded.frame.body.verb !== 'order') return [];
  return decoded.frame.body.orders
    .filter(({ name }) => name !== 'misfit' && ORDERS[name].permission === 'durable')
    .map((order) => JSON.stringify(order));
}

/** Frames with a durable order whose own record is not among what survives for certain at that moment. */
function early(diary: Diary): string[] {
  const wrong: string[] = [];
  const sent = new Map<string, number>();
  for (const [at, step] of diary.steps.entries()) {
    if (step.kind !== 'frame') continue;
    for (const order of durableOrders(step.line)) {
      const times = (sent.get(order) ?? 0) + 1;
      sent.set(order, times);
      // Nothing is lost on this line, so nothing is said twice: each time an order leaves, one more record is safe.
      const safe = diary
        .at(at)
        .durable.split('\n')
        .filter((record) => record.includes('"durable":true'))
        .reduce((sum, record) => sum + record.split(order).length - 1, 0);
      if (safe < times) wrong.push(`${order} left ${times} times, ${safe} records of it were safe`);
    }
  }
  expect(new Set([...sent.keys()].map((order) => JSON.parse(order).name)).size).toBeGreaterThan(5);
  return wrong;
}

describe('a loss of power', () => {
  const diary = new Diary();
  beforeAll(() => session(diary), 60_000);

  it('finds every energising frame behind the confirmed record of its order', () => {
    expect(early(diary)).toEqual([]);
  });
  it.each(['never-syncs', 'syncs-later'] as const)('would show a store that %s', async (sloppy) => {
    const bad = new Diary(sloppy);
    await session(bad);
    expect(early(bad).length).toBeGreaterThan(5);
  });
  it(`keeps all that was confirmed, and a labelled row, at each of ${CRASHES} moments`, () => {
    const random = new SeededRandom(77);
    const rows: Record<string, number> = {};
    for (let k = 0; k < CRASHES; k++) {
      const draw = random.fork(`${k}`);
      const { durable, loose } = diary.at(1 + (draw.uint32() % diary.steps.length));
      const text = durable + ruined(loose, draw);
      const { row, chain, reader } = examine(text, { pieceBytes: 4096 });
      rows[row] = (rows[row] ?? 0) + 1;
      // Whatever the rest looks like, nothing of what was confirmed is called damaged.
      const confirmed = examine(durable, { pieceBytes: 4096 });
      expect(confirmed.chain.faults).toEqual([]);
      expect(confirmed.reader.faults).toEqual([]);
      expect(chain.faults.every((fault) => fault.atByte >= confirmed.chain.sealedBytes)).toBe(true);
      const lines = durable.split('\n').length;
      expect(reader.faults.every((fault) => fault.line >= lines)).toBe(true);
    }
    // Lost, torn and out of order: each of these must have come up for the test to say anything.
    expect(Object.keys(rows).sort()).toEqual(expect.arrayContaining(['torn-tail', 'unfinished']));
    expect(rows['broken-chain'] ?? 0).toBeGreaterThan(0);
  });
});

/** Each append that was not confirmed is there, gone, there in part, or zeros where its bytes should be. */
function ruined(loose: readonly string[], random: SeededRandom): string {
  const kept = loose.flatMap((text) => {
    const fate = random.uint32() % 4;
    if (fate === 0) return [];
    if (fate === 1) return [text.slice(0, random.uint32() % text.length)];
    return fate === 2 ? ['\0'.repeat(random.uint32() % 64)] : [text];
  });
  // Pages reach the disk in any order.
  if (random.uint32() % 3 === 0) kept.reverse();
  return kept.join('');
}
