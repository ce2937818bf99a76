/**
 * A charger that is simulated while people stand before it: one world and its devices live on, in real time or some
 * times quicker, and one session after another is begun, ordered about and ended by hand. The supervisor in it is the
 * real one, the journals are real files (of kind `virtual`), and a trip latches on disk as it would on a charger.
 */
import path from 'node:path';
import { type DeviceHost, virtualDevices } from '../../simulators/device-host.js';
import { type Start, startSchema } from '../../simulators/scenario.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { World } from '../../simulators/world.js';
import { type Clock, isoOf } from '../host/clock.js';
import { type Diagnostics, guarded, quiet } from '../host/diagnostics.js';
import { freeName, makeFolder, type SmallFiles } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import type { Signing } from '../journal/keys.js';
import { LatchFile, type LatchState } from '../journal/latch.js';
import type { MemoryLink } from '../link/memory.js';
import type { LoadedRig } from '../rig/load.js';
import type { Session } from '../supervisor/session.js';
import type { PersonOrder, Progress } from '../supervisor/session-types.js';
import {
  type Beginning,
  type Bench,
  type BenchFault,
  type FaultStanding,
  NOBODY,
  type Stand,
  type StandListener,
} from '../supervisor/stand.js';
import { FaultBook, type MadeFault } from './bench-faults.js';
import { BenchRun } from './bench-run.js';
import { checkFault } from './fault-ask.js';
import { PacedClock } from './paced-clock.js';

/** After the end of a session it is watched for this long, so that what the devices still do is seen and on record. */
const AFTER_END_MS = 2000;
/** A session that is closed from without has this long to get safe: ramping down, make-safe and the proofs of it. */
const CLOSING_MS = 60_000;
/** Time is moved on in such pieces while closing, and promises settle between them. */
const PIECE_MS = 50;
const TURNS = 10;

export interface LiveBenchOptions {
  readonly loaded: LoadedRig;
  /** What time is paced by. */
  readonly real: Clock;
  /** Folder of the trip latch, and of the journals in `journals` unless they go elsewhere. */
  readonly state: string;
  readonly journals?: string | undefined;
  readonly seed: number;
  readonly signing?: Signing | undefined;
  readonly diagnostics?: Diagnostics;
  /** Where the trip latch is kept; on disk when absent. */
  readonly latchFiles?: SmallFiles;
}

/** Sees what the one listener of the stand sees, and what people order besides. */
export interface BenchWatcher extends StandListener {
  ordered(order: PersonOrder): void;
  /** The session is closed: the next one may begin. */
  closed(): void;
}

interface Place {
  readonly world: World;
  readonly host: DeviceHost;
  readonly links: readonly MemoryLink[];
  readonly book: FaultBook;
}

export class LiveBench implements Stand, Bench {
  readonly loaded: LoadedRig;
  readonly clock = new VirtualClock();
  readonly #paced: PacedClock;
  readonly #latch: LatchFile;
  readonly #random: SeededRandom;
  readonly #diagnostics: Diagnostics;
  readonly #watchers = new Set<BenchWatcher>();
  #listener: StandListener = NOBODY;
  #place: Place;
  #seed: number;
  /** Under way, or running on after its end. */
  #run: BenchRun | null = null;
  #last: BenchRun | null = null;
  #closed = false;

  /** @throws InputError when the latch file cannot be understood, or no journal can be kept */
  constructor(private readonly options: LiveBenchOptions) {
    const { loaded, real, state, seed } = options;
    this.loaded = loaded;
    this.#diagnostics = options.diagnostics ?? quiet;
    this.#latch = new LatchFile(state, loaded.rig.name, options.latchFiles);
    makeFolder(this.#journals);
    this.#random = new SeededRandom(seed).fork('sessions');
    this.#seed = seed;
    const { latched, state: latch } = this.#latch;
    this.#place = this.#newPlace({}, latched || latch.owedToDevice !== null);
    this.#paced = new PacedClock(this.clock, real, (error) => this.#broken(error));
    this.#paced.start();
  }

  get #journals(): string {
    return this.options.journals ?? path.join(this.options.state, 'journals');
  }

  // ---- what is seen ------------------------------------------------------------------------------------

  get session(): Session | null {
    return this.#last?.runner.session ?? null;
  }
  get sessionMs(): number {
    return this.#last === null ? 0 : this.clock.nowMs() - this.#last.originMs;
  }
  get running(): Beginning | null {
    return this.#run?.what ?? null;
  }
  get latch(): LatchState {
    return this.#latch.state;
  }
  get bench(): Bench {
    return this;
  }
  get speed(): number {
    return this.#paced.speed;
  }
  set speed(times: number) {
    this.#paced.speed = times;
  }
  get faults(): readonly FaultStanding[] {
    return this.#place.book.shown;
  }
  /** Hidden ones too. */
  get made(): readonly MadeFault[] {
    return this.#place.book.made;
  }
  /** The world itself, for tests and debriefs: no supervisor sees it. */
  get world(): World {
    return this.#place.world;
  }

  listen(listener: StandListener): void {
    this.#listener = listener;
  }

  /** @returns takes it back */
  watch(watcher: BenchWatcher): () => void {
    this.#watchers.add(watcher);
    return () => this.#watchers.delete(watcher);
  }

  // ---- sessions ----------------------------------------------------------------------------------------

  async begin(what: Beginning): Promise<void> {
    this.#mayChange('nothing can be begun');
    const run = this.#newRun(what);
    this.#run = run;
    this.#last = run;
    this.#tell((who) => who.begun(what));
    this.#place.book.entered('parked');
    try {
      await run.runner.open();
    } catch (error) {
      this.#run = null;
      this.#tellWatchers((who) => who.closed());
      throw error;
    }
  }

  #newRun(what: Beginning): BenchRun {
    const { loaded, options, clock } = this;
    const { world, links } = this.#place;
    const stamp = isoOf(options.real.wallMs()).replace(/[:.]/g, '-');
    return new BenchRun({
      what,
      loaded,
      clock,
      world,
      links,
      latch: this.#latch,
      journal: freeName(this.#journals, `${loaded.rig.name}-${stamp}`, '.ndjson'),
      random: this.#random,
      signing: options.signing,
      diagnostics: this.#diagnostics,
      onProgress: (progress) => this.#progress(progress),
      onFault: (fault) => this.#tell((who) => who.failed(fault)),
      onEnded: (run, outcome) => {
        this.#tell((who) => who.ended(outcome, run.exitOf(outcome)));
        this.clock.after(AFTER_END_MS, () => void this.#finish(run));
      },
    });
  }

  #progress(what: Progress): void {
    // Before it is told, so that who hears of the phase finds the fault no longer waiting.
    if (what.kind === 'phase') this.#place.book.entered(what.phase);
    this.#tell((who) => who.progress(what));
  }

  async #finish(run: BenchRun): Promise<void> {
    if (run.closing) return run.close();
    await run.close();
    run.tellFault();
    this.#run = null;
    this.#tellWatchers((who) => who.closed());
  }

  person(order: PersonOrder): boolean {
    const run = this.#run;
    if (run === null || run.closing) return false;
    this.#tellWatchers((who) => who.ordered(order));
    run.runner.person(order);
    return true;
  }

  /** Something in the simulated world has failed: the session cannot go on, and says so. */
  #broken(error: Error): void {
    this.#diagnostics.error({ stack: error.stack }, 'the simulated bench failed');
    const run = this.#run;
    if (run === null) this.#tell((who) => who.failed(error));
    else run.runner.fail(error);
  }

  /**
   * A session under way is told to trip now, not to stop: whoever ends the program waits for it, a normal stop ramps
   * down first and may find reasons to take its time, and what is left behind must be safe or latched. It is not failed
   * either: make-safe past checks and machine would leave a record in which nothing is proven, where a few seconds
   * prove it. Those pass as fast as the computer runs; where they do not suffice it is failed then.
   */
  async close(): Promise<void> {
    this.#closed = true;
    this.#paced.stop();
    const run = this.#run;
    if (run !== null) {
      const by = 'whoever closed the program';
      if (!run.ended)
        run.runner.person({ order: run.runner.session.phase === 'parked' ? 'stop' : 'trip-now', by });
      await this.#runOn(run);
      if (!run.ended) run.runner.fail(new Error(`closed, and not safe within ${CLOSING_MS / 1000} s`));
      await this.#finish(run);
    }
    this.#place.host.stop();
  }

  async #runOn(run: BenchRun): Promise<void> {
    const untilMs = this.clock.nowMs() + CLOSING_MS;
    while (this.clock.nowMs() < untilMs && !run.closing) {
      try {
        this.clock.runUntil(this.clock.nowMs() + PIECE_MS);
      } catch (error) {
        this.#broken(error instanceof Error ? error : new Error(String(error)));
        return;
      }
      for (let i = 0; i < TURNS; i++) await null;
    }
  }

  // ---- the bench ---------------------------------------------------------------------------------------

  /** @param hidden not shown among `faults` before `reveal`: those of an exercise */
  inject(fault: BenchFault, hidden = false): void {
    this.#place.book.ask(checkFault(fault, this.loaded.rig), hidden);
  }

  /** What cannot be taken back is mended (see `World.mend`); cells stay as cold and as far apart as they were made. */
  clear(): void {
    this.#place.book.clear();
  }

  reveal(): void {
    this.#place.book.reveal();
  }

  dropHidden(): void {
    this.#place.book.dropHidden();
  }

  /**
   * Another train does not clear a latch: the one on disk stands until somebody acknowledges by name, and the devices,
   * which are new, come up latched where they were.
   */
  renew(start: object = {}, seed = (this.#seed + 1) >>> 0): void {
    this.#mayChange('there can be no other train now');
    const checked = startSchema.safeParse(start);
    if (!checked.success) {
      const faults = checked.error.issues.map(({ path: at, message }) => ({
        file: '',
        line: 0,
        path: at.map(String).join('.'),
        message,
      }));
      throw new InputError('how the train stands at the start cannot be used', faults);
    }
    if (!(Number.isInteger(seed) && seed >= 0 && seed <= 0xffffffff))
      throw new InputError(`found the seed ${seed}, expected a whole number from 0 to ${0xffffffff}`);
    const asLatched = checked.data.latched === true;
    if (asLatched) this.#latch.trip('loop-open', 'holding', 'an earlier journal', this.clock.wallMs());
    const latched = asLatched || this.#latch.latched || this.#place.host.devices.some((d) => d.latched);
    this.#place.host.stop();
    this.#seed = seed;
    this.#place = this.#newPlace(checked.data, latched);
  }

  #newPlace(start: Start, latched: boolean): Place {
    const { rig } = this.loaded;
    const world = new World({ rig, seed: this.#seed, start });
    const originMs = this.clock.nowMs();
    const { host, links } = virtualDevices({
      clock: this.clock,
      plant: world,
      rig,
      random: new SeededRandom(this.#seed).fork('line'),
      latchedPorts: latched ? rig.link.ports.map((port) => port.name) : [],
    });
    return { world, host, links, book: new FaultBook({ world, originMs, catchUp: () => host.catchUp() }) };
  }

  /** @throws InputError while a session is under way, or when all is closed */
  #mayChange(what: string): void {
    if (this.#closed) throw new InputError(`${what}: the bench is closed`);
    const run = this.#run;
    if (run === null) return;
    const { order, by } = run.what;
    const now = run.ended ? 'has just ended and is watched a moment longer' : 'is under way';
    throw new InputError(`${what}: ${order}, asked by ${by}, ${now}`);
  }

  /** Looking on must not harm: who hears of it and fails is told to the diagnostics, and the session goes on. */
  #tell(say: (who: StandListener) => void): void {
    for (const who of [this.#listener, ...this.#watchers]) this.#guarded(() => say(who));
  }

  #tellWatchers(say: (who: BenchWatcher) => void): void {
    for (const who of this.#watchers) this.#guarded(() => say(who));
  }

  #guarded(work: () => void): void {
    guarded(this.#diagnostics, 'who looks on has failed', work);
  }
}
