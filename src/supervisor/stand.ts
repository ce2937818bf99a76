/**
 * A charger as people stand before it: one session after another, each begun by a named person; orders to the one
 * under way; and, where it is simulated, a bench on which faults are made. What is behind it, serial ports or a
 * simulated world, is not seen from here.
 */
import type { Wish } from '../checks/check.js';
import type { Clock } from '../host/clock.js';
import type { LatchState } from '../journal/latch.js';
import type { LoadedRig } from '../rig/load.js';
import type { Phase } from '../rig/roles.js';
import { EXIT, exitCodeOf, type Outcome } from './outcome.js';
import type { Session } from './session.js';
import type { PersonOrder, Progress } from './session-types.js';

/** Orders that open the ports and run to an end of their own. */
export type Opening = 'start' | 'acknowledge' | 'free-plug';

export interface Beginning {
  readonly order: Opening;
  readonly by: string;
  readonly wish: Wish;
  readonly measuredDead?: boolean;
}

export interface StandListener {
  /** A session begins: its ports are being opened. */
  begun(what: Beginning): void;
  progress(what: Progress): void;
  ended(outcome: Outcome, exit: number): void;
  /** loopwarden itself has failed; the devices were told to make safe. */
  failed(error: Error): void;
}

/** Before anybody listens. */
export const NOBODY: StandListener = { begun() {}, progress() {}, ended() {}, failed() {} };

/** An order that starts no session ends as `refused`, because nothing was started; that it was done counts. */
export function exitOfOpening(
  order: Opening,
  outcome: Outcome,
  { carriedOut, fault }: { readonly carriedOut: boolean; readonly fault: Error | null },
): number {
  if (fault !== null) return EXIT.internalFault;
  return order !== 'start' && carriedOut ? EXIT.released : exitCodeOf(outcome);
}

export interface Stand {
  readonly loaded: LoadedRig;
  /** What session time runs on: the real clock, or a bench's own. */
  readonly clock: Clock;
  /** The session under way or the last one; null before the first. */
  readonly session: Session | null;
  /** ms of `clock` since the header of that session's journal; 0 before the first. */
  readonly sessionMs: number;
  readonly running: Beginning | null;
  readonly latch: LatchState;
  readonly bench: Bench | null;
  /** One listener. */
  listen(listener: StandListener): void;
  /** Only where nothing is running. @throws InputError, PortError before anything is ordered */
  begin(what: Beginning): Promise<void>;
  /** To the session under way; where there is none nothing happens and it says false. */
  person(order: PersonOrder): boolean;
  /** A session under way is told to make safe first. */
  close(): Promise<void>;
}

/** One fault as asked for; magnitude and part are those of the table where they are absent. */
export interface BenchFault {
  readonly fault: string;
  readonly magnitude?: number | undefined;
  readonly part?: string | undefined;
  /** Made when a session next enters this phase; now when absent. */
  readonly phase?: Phase | undefined;
  readonly afterS?: number | undefined;
  readonly durationS?: number | undefined;
}

export interface FaultStanding {
  readonly fault: string;
  readonly part: string;
  readonly magnitude: number | null;
  /** Waits for this phase; null once it stands. */
  readonly awaits: Phase | null;
  /** `clock` time since when it stands. */
  readonly sinceMs: number | null;
}

export interface Bench {
  /** Times real time. */
  speed: number;
  readonly faults: readonly FaultStanding[];
  /** @throws InputError naming what is wrong with it */
  inject(fault: BenchFault): void;
  /** Takes every fault back. */
  clear(): void;
  /** Another train at the stand, with these rafts; only where nothing is running. @throws InputError */
  renew(start?: object, seed?: number): void;
}

export interface ExerciseTold {
  readonly name: string;
  readonly title: string;
  readonly goal: string;
}

export interface ExerciseState extends ExerciseTold {
  /** null while it is under way. */
  readonly debrief: { readonly reached: boolean; readonly lines: readonly string[] } | null;
}

/** Exercises for a team, on the simulator alone. */
export interface Exercises {
  /** Those that suit the rig. */
  readonly all: readonly ExerciseTold[];
  /** The one under way, or the last one with its debrief; null before the first. */
  readonly state: ExerciseState | null;
  /** One listener: called when one begins, and when its debrief stands. */
  listen(changed: () => void): void;
  /** Another train, as the exercise wants it; only where nothing is running and no other exercise is. @throws InputError */
  begin(name: string): void;
  /** Its debrief now, whatever is missing; where none is under way nothing happens. */
  end(): void;
}
