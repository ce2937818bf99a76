/** One session on a live bench: its runner and its journal, from the header to the closed file. */

import type { VirtualClock } from '../../simulators/virtual-clock.js';
import { VirtualStore } from '../../simulators/virtual-store.js';
import type { World } from '../../simulators/world.js';
import type { Diagnostics } from '../host/diagnostics.js';
import { createTextFile, type TextFile } from '../host/durable-file.js';
import { newNonce, type RandomSource } from '../host/random.js';
import { SOFTWARE } from '../host/version.js';
import type { Signing } from '../journal/keys.js';
import type { LatchFile } from '../journal/latch.js';
import type { MemoryLink } from '../link/memory.js';
import type { LoadedRig } from '../rig/load.js';
import type { Outcome } from '../supervisor/outcome.js';
import { Runner } from '../supervisor/runner.js';
import type { Progress } from '../supervisor/session-types.js';
import { type Beginning, exitOfOpening } from '../supervisor/stand.js';

export interface BenchRunOptions {
  readonly what: Beginning;
  readonly loaded: LoadedRig;
  readonly clock: VirtualClock;
  readonly world: World;
  readonly links: readonly MemoryLink[];
  readonly latch: LatchFile;
  /** A file that is not there yet. */
  readonly journal: string;
  readonly random: RandomSource;
  readonly signing?: Signing | undefined;
  readonly diagnostics: Diagnostics;
  onProgress(what: Progress): void;
  onEnded(run: BenchRun, outcome: Outcome): void;
  onFault(fault: Error): void;
}

export class BenchRun {
  readonly what: Beginning;
  readonly runner: Runner;
  /** Clock time of the header. */
  readonly originMs: number;
  #faultTold = false;
  #closing: Promise<void> | null = null;

  /** @throws InputError when there can be no journal */
  constructor(private readonly options: BenchRunOptions) {
    const { what, loaded, clock, world, links, latch, journal, diagnostics, signing } = options;
    this.what = what;
    this.originMs = clock.nowMs();
    const disk = new Disk(createTextFile(journal));
    const faults = () => {
      const { journalDelayMs, journalFails } = world.hostFaults();
      // A real disk that is full fails the journal as a simulated one would.
      return { journalDelayMs, journalFails: journalFails || disk.failed };
    };
    this.runner = new Runner({
      rig: loaded.rig,
      rigHash: loaded.hash,
      software: SOFTWARE,
      clock,
      clockKind: 'virtual',
      links,
      store: new VirtualStore(journal, clock, faults, disk),
      latch,
      nonce: newNonce(options.random),
      by: what.by,
      wish: what.wish,
      order: what.order,
      measuredDead: what.measuredDead ?? false,
      diagnostics,
      ...(signing ? { signing } : {}),
      onProgress: (progress) => options.onProgress(progress),
      onEnded: (outcome) => {
        this.tellFault();
        options.onEnded(this, outcome);
      },
    });
  }

  get ended(): boolean {
    return this.runner.outcome !== null;
  }

  /** Its ports are closed, or being closed. */
  get closing(): boolean {
    return this.#closing !== null;
  }

  exitOf(outcome: Outcome): number {
    const { fault, session } = this.runner;
    return exitOfOpening(this.what.order, outcome, { carriedOut: session.carriedOut, fault });
  }

  /** Once. */
  tellFault(): void {
    const { fault } = this.runner;
    if (fault === null || this.#faultTold) return;
    this.#faultTold = true;
    this.options.onFault(fault);
  }

  /** Closed once, whoever asks first; never rejects. */
  close(): Promise<void> {
    this.#closing ??= this.runner.close().catch((error) => {
      this.options.diagnostics.error({ why: String(error) }, 'a journal could not be closed');
    });
    return this.#closing;
  }
}

/** A journal's file; when it takes nothing any more that is a fault of the store, not of the program. */
class Disk implements TextFile {
  failed = false;

  constructor(private readonly file: TextFile) {}

  append(text: string): void {
    if (this.failed) return;
    try {
      this.file.append(text);
    } catch {
      this.failed = true;
    }
  }

  async close(): Promise<void> {
    try {
      await this.file.close();
    } catch {
      this.failed = true;
    }
  }
}
