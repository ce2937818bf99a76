/** A real charger as people stand before it: each session opens the serial ports anew, as `run` does. */
import { realClock } from '../host/clock.js';
import { type Diagnostics, guarded } from '../host/diagnostics.js';
import { InputError } from '../host/input-error.js';
import { LatchFile, type LatchState } from '../journal/latch.js';
import type { LoadedRig } from '../rig/load.js';
import type { Runner } from '../supervisor/runner.js';
import type { Session } from '../supervisor/session.js';
import type { PersonOrder, Progress } from '../supervisor/session-types.js';
import {
  type Beginning,
  exitOfOpening,
  NOBODY,
  type Stand,
  type StandListener,
} from '../supervisor/stand.js';
import { pathsOf } from './ports.js';
import { type RealOptions, runReal, stateFolder } from './real-session.js';

export interface SerialStandOptions
  extends Pick<RealOptions, 'loaded' | 'ports' | 'out' | 'state' | 'signing' | 'headFile'> {
  readonly diagnostics: Diagnostics;
  /** A session is under way, or (null) none any more. */
  onRunner?(runner: Runner | null): void;
}

const LATCH_EVERY_MS = 1000;

export class SerialStand implements Stand {
  readonly clock = realClock;
  readonly bench = null;
  readonly loaded: LoadedRig;
  running: Beginning | null = null;
  #runner: Runner | null = null;
  #beganMs = 0;
  #latch: LatchState;
  /** Written since it was read here. */
  #latchIsOld = false;
  #latchReadMs = realClock.nowMs();
  #listener = NOBODY;
  #over: Promise<void> = Promise.resolve();
  #closed = false;

  /** @throws InputError when a port has no path, or the latch file cannot be understood */
  constructor(private readonly options: SerialStandOptions) {
    this.loaded = options.loaded;
    pathsOf(options.ports, options.loaded.rig, '--port-serial');
    this.#latch = this.#readLatch();
  }

  get session(): Session | null {
    return this.#runner?.session ?? null;
  }
  get sessionMs(): number {
    return this.#runner === null ? 0 : realClock.nowMs() - this.#beganMs;
  }
  get latch(): LatchState {
    // Between sessions other programs may set and clear it.
    const isIdle = this.running === null && realClock.nowMs() - this.#latchReadMs > LATCH_EVERY_MS;
    if (this.#latchIsOld || isIdle) this.#lookAtLatch();
    return this.#latch;
  }

  listen(listener: StandListener): void {
    this.#listener = listener;
  }

  begin(what: Beginning): Promise<void> {
    if (this.running !== null) return Promise.reject(new InputError('a session is under way already'));
    if (this.#closed) return Promise.reject(new InputError('the page is being closed; nothing can be begun'));
    const { order, by, wish, measuredDead = false } = what;
    const { loaded, ports, out, state, signing, headFile, diagnostics, onRunner } = this.options;
    this.running = what;
    return new Promise((opened, reject) => {
      const ending = runReal({
        ...{ loaded, ports, out, state, signing, headFile, diagnostics },
        ...{ order, by, wish, measuredDead },
        onReady: (runner) => {
          this.#runner = runner;
          this.#beganMs = realClock.nowMs();
          this.#tell((who) => who.begun(what));
          onRunner?.(runner);
        },
        onOpened: opened,
        onProgress: (progress) => this.#progress(progress),
      });
      this.#over = ending.then(
        ({ outcome, fault, carriedOut }) => {
          this.#latchIsOld = true;
          if (fault !== null) this.#tell((who) => who.failed(fault));
          const exit = exitOfOpening(order, outcome, { carriedOut, fault });
          this.#tell((who) => who.ended(outcome, exit));
          this.running = null;
          onRunner?.(null);
        },
        (error: unknown) => {
          this.#latchIsOld = true;
          this.running = null;
          onRunner?.(null);
          reject(error);
        },
      );
    });
  }

  person(order: PersonOrder): boolean {
    if (this.running === null || this.#runner === null) return false;
    this.#runner.person(order);
    return true;
  }

  /** Ends nothing by itself: whoever closes has ended the session first, and waits for it here. */
  close(): Promise<void> {
    // Nothing begins behind the back of whoever has ended the page.
    this.#closed = true;
    return this.#over;
  }

  #progress(what: Progress): void {
    // Read later: this is inside the step of the trip, which waits for no disk and must not fail with one.
    if (what.kind === 'trip') this.#latchIsOld = true;
    this.#tell((who) => who.progress(what));
  }

  /** From inside the step: what was thrown here would end the session as if the supervisor had failed. */
  #tell(say: (who: StandListener) => void): void {
    guarded(this.options.diagnostics, 'who looks on has failed', () => say(this.#listener));
  }

  /** One that cannot be read is never told as none: what was known stands, or that it is latched. */
  #lookAtLatch(): void {
    this.#latchIsOld = false;
    this.#latchReadMs = realClock.nowMs();
    try {
      this.#latch = this.#readLatch();
    } catch (error) {
      this.options.diagnostics.error({ why: String(error) }, 'the trip latch cannot be read');
      const unknown = { code: 'latched', phase: 'unknown', journal: 'unknown', wallMs: realClock.wallMs() };
      const trip = this.#latch.trip ?? { ...unknown, provenDead: null, found: [] };
      this.#latch = { ...this.#latch, trip };
    }
  }

  #readLatch(): LatchState {
    return new LatchFile(stateFolder(this.options.state), this.loaded.rig.name).state;
  }
}
