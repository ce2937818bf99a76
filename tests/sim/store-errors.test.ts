/** A disk that fails at a random write or sync: the session trips, gets safe, says so, and loses nothing before it. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { Clock } from '../../src/host/clock.js';
import { filesInMemory } from '../../src/host/durable-file.js';
import type { JournalStore } from '../../src/host/journal-store.js';
import { FIRST_SEAL } from '../../src/journal/format.js';
import { LatchFile } from '../../src/journal/latch.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';
import type { Progress } from '../../src/supervisor/session-types.js';
import { examine } from '../unit/journal/build.js';

const SYNC_MS = 3;
const KINDS = ['ENOSPC: no space left', 'EROFS: read-only file system', 'EIO: sync failed'] as const;
const EACH = 6;

/** Keeps its promise until write (or sync) number `at`, then fails for good, as src/host/journal-store.ts says. */
class FailingStore {
  text = '';
  #writes = 0;
  #syncs = 0;
  #failed: Error | null = null;

  constructor(
    private readonly why: string,
    private readonly at: number,
  ) {}

  make(clock: Clock, path: string): JournalStore {
    const onSync = this.why.startsWith('EIO');
    return {
      path,
      append: (text) => {
        if (this.#failed !== null) return;
        if (!onSync && ++this.#writes >= this.at) {
          // A full disk takes a part of the last write.
          this.text += text.slice(0, Math.floor(text.length / 2));
          this.#failed = new Error(this.why);
        } else this.text += text;
      },
      sync: (done) => {
        if (onSync && ++this.#syncs >= this.at) this.#failed ??= new Error(this.why);
        clock.after(SYNC_MS, () => done(this.#failed));
      },
      close: async () => {},
    };
  }
}

async function session(store: FailingStore, files = filesInMemory()) {
  const told: Progress[] = [];
  const run = await runVirtual({
    loaded: loadRig('depot-cable'),
    scenario: { seed: 3, start: {}, wish: { targetEnergyKwh: 0.05 }, inject: [], orders: [] } as never,
    stateDir: 'memory',
    latchFiles: files,
    journalPath: 'journal',
    sink: { append: () => {}, close: async () => {} },
    newStore: (clock, path) => store.make(clock, path),
    onProgress: (what) => told.push(what),
  });
  return { ...run, told, files };
}

describe('a disk that fails', () => {
  const random = new SeededRandom(5);
  const cases = KINDS.flatMap((why) =>
    // Writes come with every step, syncs four times a second.
    Array.from({ length: EACH }, () => ({
      why,
      at: 40 + (random.uint32() % (why.startsWith('EIO') ? 30 : 500)),
    })),
  );
  it.each(cases)('$why, at number $at', async ({ why, at }) => {
    const store = new FailingStore(why, at);
    const { outcome, exit, told, files, fault, head } = await session(store);
    expect(fault).toBeNull();
    expect(outcome.outcome).toBe('tripped');
    expect(outcome.trip?.code).toBe('journal-failed');
    expect(exit).toBe(3);
    expect(told.some((what) => what.kind === 'trip' && what.trip.code === 'journal-failed')).toBe(true);
    expect(new LatchFile('memory', 'depot-cable', files).latched).toBe(true);
    // What was written before stands, up to the last seal; a part of a line may follow.
    const { row, chain } = examine(store.text, { pieceBytes: 1 << 16 });
    expect(['torn-tail', 'unfinished']).toContain(row);
    expect(chain.faults).toEqual([]);
    expect(chain.seals).toBeGreaterThan(3);
    // The head that is told is one that is there, however much was written behind it that nobody confirmed.
    expect(examine(store.text, { head }).chain.headMet).toBe(true);
  });
  it('orders nothing that energises when it fails from the start', async () => {
    const { outcome, truth, head } = await session(new FailingStore(KINDS[0], 1));
    expect(head).toBe(FIRST_SEAL);
    expect(truth.peakOutputV).toBeLessThan(1);
    expect(outcome.phases.map((p) => p.name)).not.toContain('matching-voltage');
  });
});
