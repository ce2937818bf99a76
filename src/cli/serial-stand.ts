/** A real charger as people stand before it: each session opens the serial ports anew, as `run` does. */
import { realClock } from '../host/clock.js';
import type { Diagnostics } from '../host/diagnostics.js';
import { InputError } from '../host/input-error.js';
import { LatchFile, type LatchState } from '../journal/latch.js';
import type { LoadedRig } from '../rig/load.js';
import { exitCodeOf } from '../supervisor/outcome.js';
import type { Runner } from '../supervisor/runner.js';
import type { Session } from '../supervisor/session.js';
import type { PersonOrder, Progress } from '../supervisor/session-types.js';
import type { Beginning, Stand, StandListener } from '../supervisor/stand.js';
import { pathsOf } from './ports.js';
import { type RealOptions, runReal, stateFolder } from './real-session.js';

export interface SerialStandOptions
  extends Pick<RealOptions, 'loaded' | 'ports' | 'out' | 'state' | 'signing' | 'headFile'> {
  readonly diagnostics: Diagnostics;
  /** A session is under way, or (null) none any more. */
  onRunner?(runner: Runner | null): void;
}

const NOBODY: StandListener = { begun() {}, progress() {}, ended() {}, failed() {} };

export class SerialStand implements Stand {
  readonly clock = realClock;
  readonly bench = null;
  readonly loaded: LoadedRig;
  running: Beginning | null = null;
  #runner: Runner | null = null;
  #beganMs = 0;
  #latch: LatchState;
  #listener = NOBODY;
  #over: Promise<void> = Promise.resolve();

  /** @throws InputError when a port has no path, or the latch file cannot be understood */
  constructor(private readonly options: SerialStandOptions) {
    this.loaded = options.loaded;
    pathsOf(options.ports, options.loaded.rig);
    this.#latch = this.#readLatch();
  }

  get session(): Session | null {
    return this.#runner?.session ?? null;
  }
  get sessionMs(): number {
    return this.#runner === null ? 0 : realClock.nowMs() - this.#beganMs;
  }
  get latch(): LatchState {
    return this.#latch;
  }

  listen(listener: StandListener): void {
    this.#listener = listener;
  }

  begin(what: Beginning): Promise<void> {
    if (this.running !== null) return Promise.reject(new InputError('a session is under way already'));
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
          this.#listener.begun(what);
          onRunner?.(runner);
        },
        onOpened: opened,
        onProgress: (progress) => this.#progress(progress),
      });
      this.#over = ending.then(
        ({ outcome, fault }) => {
          this.#latch = this.#readLatch();
          if (fault !== null) this.#listener.failed(fault);
          this.#listener.ended(outcome, exitCodeOf(outcome));
          this.running = null;
          onRunner?.(null);
        },
        (error: unknown) => {
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
    return this.#over;
  }

  #progress(what: Progress): void {
    if (what.kind === 'trip') this.#latch = this.#readLatch();
    this.#listener.progress(what);
  }

  #readLatch(): LatchState {
    return new LatchFile(stateFolder(this.options.state), this.loaded.rig.name).state;
  }
}
