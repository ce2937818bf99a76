/**
 * A journal store over virtual time. Promise kept: order, and a sync that calls back after its latency.
 * Faults: a slow sync, and a disk that takes nothing any more.
 */
import type { Clock } from '../src/host/clock.js';
import type { JournalStore } from '../src/host/journal-store.js';

/** A quick disk. */
const SYNC_MS = 3;

export interface StoreFaults {
  readonly journalDelayMs: number;
  readonly journalFails: boolean;
}

const full = (): Error => new Error('no space left on the simulated disk');

export class VirtualStore implements JournalStore {
  #failed: Error | null = null;

  /** @param sink takes the bytes; a file, or nothing at all */
  constructor(
    readonly path: string,
    private readonly clock: Clock,
    private readonly faults: () => StoreFaults,
    private readonly sink: { append(text: string): void; close(): Promise<void> },
  ) {}

  append(text: string): void {
    // Once it has lost anything it stays failed, as a file does: a disk with room again brings nothing back.
    if (this.faults().journalFails) this.#failed ??= full();
    if (this.#failed === null) this.sink.append(text);
  }

  sync(done: (error: Error | null) => void): void {
    const { journalDelayMs, journalFails } = this.faults();
    if (journalFails) this.#failed ??= full();
    const failed = this.#failed;
    this.clock.after(failed === null ? SYNC_MS + journalDelayMs : SYNC_MS, () => done(failed));
  }

  close(): Promise<void> {
    return this.sink.close();
  }
}
