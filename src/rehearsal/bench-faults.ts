/** The faults people have asked for on a bench: which wait for a phase, which stand, and what was ever made. */
import type { FaultName } from '../../simulators/faults.js';
import type { World } from '../../simulators/world.js';
import { InputError } from '../host/input-error.js';
import type { Phase } from '../rig/roles.js';
import type { FaultStanding } from '../supervisor/stand.js';
import type { AskedFault } from './fault-ask.js';

interface Entry {
  readonly asked: AskedFault;
  /** Those of an exercise are not shown until its debrief. */
  hidden: boolean;
  state: 'awaits' | 'due' | 'stands';
  /** World time. */
  sinceMs: number | null;
}

/** One that was made, for a debrief. */
export interface MadeFault {
  readonly fault: FaultName;
  readonly part: string;
  readonly magnitude: number;
  /** Clock time. */
  readonly atMs: number;
}

/** More at once is nothing anyone can follow. */
const MOST = 32;
const MOST_MADE = 200;

/** What the book needs of the bench. */
export interface FaultPlace {
  readonly world: World;
  /** Clock time of the zero of the world. */
  readonly originMs: number;
  /** Brings the world to the present, so that times count from now. */
  catchUp(): void;
}

export class FaultBook {
  #entries: Entry[] = [];
  #read = 0;
  readonly #made: MadeFault[] = [];

  constructor(private readonly place: FaultPlace) {}

  /** @throws InputError when there are too many already */
  ask(asked: AskedFault, hidden: boolean): void {
    this.#sync();
    if (this.#entries.length >= MOST)
      throw new InputError(`there are ${MOST} faults already; clear them before making another`);
    const entry: Entry = { asked, hidden, state: 'awaits', sinceMs: null };
    this.#entries.push(entry);
    if (asked.phase === null) this.#make(entry);
  }

  /** A session has entered this phase. */
  entered(phase: Phase): void {
    for (const entry of this.#entries)
      if (entry.state === 'awaits' && entry.asked.phase === phase) this.#make(entry);
  }

  /** Takes back what stands and forgets what waits. */
  clear(): void {
    this.#sync();
    this.place.catchUp();
    this.place.world.clearFaults();
    this.place.world.mend();
    this.#entries = [];
    this.#read = this.place.world.faultLog.length;
  }

  /** Forgets what waits unseen: an exercise is over. */
  dropHidden(): void {
    this.#entries = this.#entries.filter((e) => !e.hidden || e.state !== 'awaits');
  }

  reveal(): void {
    for (const entry of this.#entries) entry.hidden = false;
  }

  get shown(): FaultStanding[] {
    this.#sync();
    return this.#entries
      .filter((e) => !e.hidden)
      .map(({ asked: { fault, part, magnitude, phase }, state, sinceMs }) => ({
        fault,
        part,
        magnitude,
        awaits: state === 'awaits' ? phase : null,
        sinceMs: sinceMs === null ? null : this.place.originMs + sinceMs,
      }));
  }

  /** What was made on this world, the first so many. */
  get made(): readonly MadeFault[] {
    this.#sync();
    return this.#made;
  }

  #make(entry: Entry): void {
    const { fault, magnitude, part, afterS, durationS } = entry.asked;
    entry.state = 'due';
    this.place.catchUp();
    this.place.world.inject({ fault, magnitude, part, afterS, durationS });
  }

  /** The log of the world says what came of them. */
  #sync(): void {
    const log = this.place.world.faultLog;
    for (; this.#read < log.length; this.#read++) {
      const event = log[this.#read]!;
      const { fault, part, magnitude, atMs, on } = event;
      const from = on ? 'due' : 'stands';
      const at = this.#entries.findIndex(
        ({ state, asked }) =>
          state === from && asked.fault === fault && asked.part === part && asked.magnitude === magnitude,
      );
      const entry = this.#entries[at];
      if (on && this.#made.length < MOST_MADE)
        this.#made.push({ fault, part, magnitude, atMs: this.place.originMs + atMs });
      if (entry === undefined) continue;
      if (on) {
        entry.state = 'stands';
        entry.sinceMs = atMs;
      } else this.#entries.splice(at, 1);
    }
  }
}
