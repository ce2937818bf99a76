/**
 * The run loop: ties a session to a clock, links, a journal store and the latch file. The same code runs in
 * virtual time over memory links and in real time over serial ports; only what is injected differs.
 */

import type { TimerId } from '../../machines/vocabulary.js';
import type { Wish } from '../checks/check.js';
import { CHECKS } from '../checks/index.js';
import type { Clock } from '../host/clock.js';
import { type Diagnostics, quiet } from '../host/diagnostics.js';
import { InputError } from '../host/input-error.js';
import type { JournalStore } from '../host/journal-store.js';
import { type ClockBody, JOURNAL_FORMAT, JOURNAL_VERSION, type JournalHeader } from '../journal/format.js';
import type { LatchFile } from '../journal/latch.js';
import type { Planned } from '../journal/planned.js';
import { JournalWriter, type Sealer } from '../journal/writer.js';
import type { Link } from '../link/link.js';
import type { Rig } from '../rig/schema.js';
import { machineHash } from './decide.js';
import type { StartFault } from './handshake.js';
import { mayNotObserve, type Observing } from './observing.js';
import { exitCodeOf, type Outcome } from './outcome.js';
import { inDoubt } from './permission.js';
import { Session } from './session.js';
import type { PersonOrder, Progress, SessionSetup } from './session-types.js';

export interface RunnerOptions {
  readonly rig: Rig;
  readonly rigHash: string;
  readonly software: string;
  readonly clock: Clock;
  readonly clockKind: 'real' | 'virtual';
  /** One per port, in rig order. */
  readonly links: readonly Link[];
  readonly store: JournalStore;
  readonly latch: LatchFile;
  readonly nonce: string;
  readonly by: string;
  readonly wish: Wish;
  /** What the person asks once the ports are open. */
  readonly order: PersonOrder['order'];
  /** See PersonOrder. */
  readonly measuredDead?: boolean;
  /** Signs the seals; a journal without signatures when absent. */
  readonly signing?: { readonly sealer: Sealer; readonly key: string };
  /** See observing.ts. */
  readonly observing?: Observing;
  /** What a plan expects of this session: written down, and nothing else. */
  readonly planned?: Planned;
  /** Told the newest seal with each reading of the wall clock and at the end; a failure of it ends nothing. */
  onHead?(head: string, upTo: number): void;
  /** All checks when absent; tests put broken ones here. */
  readonly checks?: SessionSetup['checks'];
  readonly diagnostics?: Diagnostics;
  onProgress(what: Progress): void;
  /** The session has its outcome; links still run until `close`. */
  onEnded(outcome: Outcome): void;
}

/** Wall time is written down this often, with the next sync: a step of the wall clock shows. */
const CLOCK_EVERY_MS = 10_000;

export class Runner {
  readonly session: Session;
  readonly #journal: JournalWriter;
  readonly #timers = new Map<TimerId, { cancel: () => void; generation: number }>();
  readonly #originMs: number;
  readonly #setup: SessionSetup;
  #generation = 0;
  #clockAtMs = 0;
  #lastStepMs = 0;
  #tickMs: number;
  #closed = false;
  readonly #diagnostics: Diagnostics;
  outcome: Outcome | null = null;
  fault: Error | null = null;

  constructor(private readonly options: RunnerOptions) {
    const { rig, clock, latch, store, observing } = options;
    const why = observing === undefined ? null : mayNotObserve(observing, options.wish, rig);
    if (why !== null) throw new InputError(why);
    this.#originMs = clock.nowMs();
    this.#diagnostics = options.diagnostics ?? quiet;
    // Every age check runs at least each half deadline, whatever arrives.
    this.#tickMs = Math.min(rig.link.fastReadingMs, rig.link.silenceMs) / 2;
    this.#journal = new JournalWriter(
      store,
      (upTo) => {
        this.#give(() => {
          const nowMs = this.#nowMs();
          const told = this.#noteClock(nowMs);
          this.session.synced(upTo, nowMs);
          if (told) this.#tellHead(this.#journal.durable);
        });
      },
      (error) => {
        this.#diagnostics.error({ path: store.path, why: error.message }, 'the journal cannot be written');
        // The next observation shows the failure to the checks, at once.
        this.#give(() => this.session.tick(this.#nowMs()));
      },
      options.signing?.sealer,
    );
    this.#setup = {
      rig,
      nonce: options.nonce,
      by: options.by,
      wish: options.wish,
      latched: latch.latched && options.order === 'start',
      startFaults: latchFaults(latch),
      owedAcknowledgement: latch.state.owedToDevice !== null,
      observing: options.observing ?? null,
      checks: options.checks ?? CHECKS,
    };
    this.#writeHeader();
    this.session = new Session(
      this.#setup,
      {
        send: (port, line) => options.links[port]?.send(line) ?? false,
        startTimer: (timer, delayMs) => this.#startTimer(timer, delayMs),
        cancelTimer: (timer) => this.#cancelTimer(timer),
        started: () => {
          // Leaving parked means that no device holds a latch any more.
          latch.deviceCleared();
          latch.begin(store.path, clock.wallMs());
        },
        energising: () => latch.energised(),
        latch: (trip) => this.#keep(() => latch.trip(trip.code, trip.phase, store.path, clock.wallMs())),
        progress: (what) => options.onProgress(what),
        rejectedFrames: (counted) => counted,
        ended: (outcome) => this.#ended(outcome),
      },
      this.#journal,
    );
  }

  /** The last seal, on a disk that failed the last that is known to be on it: noted elsewhere, it shows a tail cut off. */
  get head(): string {
    return this.#journal.head;
  }

  get closed(): boolean {
    return this.#closed;
  }

  /** Opens every port, then says hello and gives the person's order. @throws PortError */
  async open(): Promise<void> {
    const { links, order, by } = this.options;
    try {
      for (const [port, link] of links.entries()) {
        await link.open({
          line: (text) => {
            if (this.#closed) return;
            const nowMs = this.#nowMs();
            this.#give(() => {
              // A line that led to no step must not put off the tick: babble would hide silence.
              if (this.session.line(port, text, nowMs)) this.#lastStepMs = nowMs;
            });
          },
          down: (reason) => {
            this.#diagnostics.warn({ port: link.port, reason }, 'port down');
            this.#give(() => this.session.portDown(port, reason, this.#nowMs()));
          },
        });
      }
    } catch (error) {
      await this.close();
      throw error;
    }
    this.#diagnostics.info({ rig: this.options.rig.name, ports: links.map((l) => l.port) }, 'ports open');
    const nowMs = this.#nowMs();
    this.#lastStepMs = nowMs;
    this.session.open(nowMs);
    const { measuredDead = false } = this.options;
    this.session.person(measuredDead ? { order, by, measuredDead } : { order, by }, nowMs);
    this.#tickLater(this.#tickMs);
  }

  person(order: PersonOrder): void {
    this.#give(() => this.session.person(order, this.#nowMs()));
  }

  /**
   * The supervisor itself has failed: every device is told to make safe, past checks and machine, and the latch
   * is set. Nothing is proven any more.
   */
  fail(error: Error): void {
    if (this.#closed || this.fault !== null) return;
    this.fault = error;
    this.#diagnostics.error({ stack: error.stack }, 'the supervisor failed; devices told to make safe');
    this.session.panic(error.message, this.#nowMs());
  }

  async close(): Promise<void> {
    this.#closed = true;
    for (const { cancel } of this.#timers.values()) cancel();
    this.#timers.clear();
    await Promise.all(this.options.links.map((link) => link.close()));
    // What came after the end is part of the record too: no block stays open.
    this.#journal.seal(this.#nowMs());
    this.#journal.flush();
    await this.options.store.close();
    const { head, last, durable } = this.#journal;
    this.#tellHead(head === durable.head ? durable : { head, upTo: last });
  }

  /** One input at a time; whatever fails inside, the devices are told. */
  #give(input: () => void): void {
    if (this.#closed || this.fault !== null) return;
    try {
      input();
    } catch (error) {
      this.fail(error instanceof Error ? error : new Error(String(error)));
    }
  }

  #tickLater(delayMs: number): void {
    this.options.clock.after(delayMs, () => {
      if (this.#closed) return;
      const nowMs = this.#nowMs();
      const idleMs = nowMs - this.#lastStepMs;
      if (idleMs >= this.#tickMs) {
        this.#lastStepMs = nowMs;
        this.#give(() => this.session.tick(nowMs));
        this.#tickLater(this.#tickMs);
      } else this.#tickLater(Math.max(1, this.#tickMs - idleMs));
    });
  }

  #startTimer(timer: TimerId, delayMs: number): void {
    this.#cancelTimer(timer);
    const generation = ++this.#generation;
    const cancel = this.options.clock.after(delayMs, () => {
      if (this.#closed) return;
      const current = this.#timers.get(timer)?.generation === generation;
      if (current) this.#timers.delete(timer);
      this.#give(() => this.session.elapsed(timer, current, this.#nowMs()));
    });
    this.#timers.set(timer, { cancel, generation });
  }

  #cancelTimer(timer: TimerId): void {
    this.#timers.get(timer)?.cancel();
    this.#timers.delete(timer);
  }

  #ended(outcome: Outcome): void {
    if (this.outcome !== null) return;
    this.outcome = outcome;
    const { outcome: ending, endReason, rejectedFrames } = outcome;
    const why = this.#journal.failed?.message;
    if (why !== undefined) this.#diagnostics.error({ why }, 'not all of the journal is written and sealed');
    this.#diagnostics.info({ ending, endReason, rejectedFrames }, 'session ended');
    const { latch, clock, order, by } = this.options;
    if (this.session.carriedOut && order === 'acknowledge') latch.acknowledge(by, clock.wallMs(), true);
    else if (order === 'start' && outcome.outcome !== 'refused') {
      const found = outcome.findings.map((f) => f.code);
      this.#keep(() => latch.end(exitCodeOf(outcome) !== 9, found));
    }
    this.options.onEnded(outcome);
  }

  /**
   * What is told to the latch file once something may be live: a disk that fails then must not keep the session
   * from getting safe. The mark written before anything was energised stands, and latches the rig by itself.
   */
  #keep(write: () => void): void {
    try {
      write();
    } catch (error) {
      this.#diagnostics.error(
        { why: String(error) },
        'the trip latch cannot be written; its last state stands',
      );
    }
  }

  /**
   * ms since the header, to the nanosecond: the very number that the journal keeps, so that a replay decides on
   * the same figures to the last bit.
   */
  #nowMs(): number {
    return Math.round((this.options.clock.nowMs() - this.#originMs) * 1e6) / 1e6;
  }

  /** @returns true when it was written down */
  #noteClock(nowMs: number): boolean {
    if (nowMs - this.#clockAtMs < CLOCK_EVERY_MS && nowMs > 0) return false;
    this.#clockAtMs = nowMs;
    const { clock } = this.options;
    const beforeMs = clock.nowMs();
    const wallMs = clock.wallMs();
    const body: ClockBody = { wallMs, readWithinMs: clock.nowMs() - beforeMs };
    this.#journal.record(nowMs, 'clock', body);
    return nowMs > 0;
  }

  #tellHead({ head, upTo }: { readonly head: string; readonly upTo: number }): void {
    if (upTo < 0) return;
    try {
      this.options.onHead?.(head, upTo);
    } catch (error) {
      this.#diagnostics.error({ why: String(error) }, 'the head cannot be kept elsewhere');
    }
  }

  #writeHeader(): void {
    const { rig, rigHash, software, clock, clockKind, nonce, by } = this.options;
    const header: JournalHeader = {
      format: JOURNAL_FORMAT,
      version: JOURNAL_VERSION,
      software,
      rig: rig.name,
      rigHash,
      machineHash: machineHash(),
      nonce,
      clock: clockKind,
      wallMs: clock.wallMs(),
      by,
      key: this.options.signing?.key ?? null,
    };
    this.#journal.record(0, 'header', header);
    this.#journal.record(0, 'rig', { rig });
    const { wish, latched, startFaults, owedAcknowledgement, observing } = this.#setup;
    const observes = observing === null ? {} : { observing };
    const plans = this.options.planned === undefined ? {} : { planned: this.options.planned };
    this.#journal.record(0, 'setup', {
      wish,
      latched,
      startFaults,
      owedAcknowledgement,
      ...observes,
      ...plans,
    });
    this.#noteClock(0);
    this.#journal.requestSync(0);
  }
}

/** What the latch file alone says against a start. */
function latchFaults(latch: LatchFile): StartFault[] {
  const { trip, open } = latch.state;
  const faults: StartFault[] = [];
  if (trip !== null) {
    faults.push({
      code: 'latched',
      part: `${trip.code} in ${trip.phase}, journal ${trip.journal}`,
      inDoubt: trip.provenDead !== true && inDoubt([trip.code, ...trip.found]),
    });
  }
  if (open?.energised === true) faults.push({ code: 'unfinished-journal', part: open.journal });
  return faults;
}
