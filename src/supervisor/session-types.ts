/** What a session is given and what it gives back to the world. */
import type { TimerId } from '../../machines/vocabulary.js';
import type { Check, CurrentLimit, Finding, Wish } from '../checks/check.js';
import type { Wave } from '../link/frames.js';
import type { Phase } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { StartFault } from './handshake.js';
import type { Observing } from './observing.js';
import type { Outcome, Refusal, TripRecord } from './outcome.js';

export interface PersonOrder {
  /** `sample-pilot` asks the device for one burst of pilot samples: to be looked at, nothing is decided by it. */
  readonly order:
    | 'start'
    | 'stop'
    | 'trip-now'
    | 'acknowledge'
    | 'free-plug'
    | 'limit-current'
    | 'sample-pilot';
  /** Name of the person. */
  readonly by: string;
  /** With `limit-current`: no more than this from now on, A. */
  readonly currentA?: number;
  /**
   * With an acknowledgement: this person has measured output and plug dead with a voltmeter proven before and
   * after. Needed where the instruments or auxiliaries themselves are in doubt.
   */
  readonly measuredDead?: boolean;
}

export interface SessionSetup {
  readonly rig: Rig;
  readonly nonce: string;
  readonly by: string;
  readonly wish: Wish;
  /** The latch on disk stands. */
  readonly latched: boolean;
  /** Whatever forbids a start before anything is read: the latch, an unfinished journal. */
  readonly startFaults: readonly StartFault[];
  /** A named person has acknowledged the last trip, but the device was not connected and still holds its latch. */
  readonly owedAcknowledgement: boolean;
  /** Codes that only observe for a time, while a hard-wired protection is proven; null in every other session. */
  readonly observing: Observing | null;
  // biome-ignore lint/suspicious/noExplicitAny: each check keeps a state of its own type
  readonly checks: readonly Check<any>[];
}

export type Progress =
  | { readonly kind: 'phase'; readonly atS: number; readonly phase: Phase }
  | { readonly kind: 'limit'; readonly atS: number; readonly limit: CurrentLimit }
  | { readonly kind: 'finding'; readonly atS: number; readonly finding: Finding }
  | { readonly kind: 'trip'; readonly atS: number; readonly trip: TripRecord }
  | { readonly kind: 'refusal'; readonly atS: number; readonly refusal: Refusal }
  /** One part of a burst of pilot samples, as the device sent it. */
  | { readonly kind: 'wave'; readonly atS: number; readonly wave: Wave };

export interface SessionOutputs {
  /** False when the port cannot take it. */
  send(port: number, line: string): boolean;
  startTimer(timer: TimerId, delayMs: number): void;
  cancelTimer(timer: TimerId): void;
  /** The session leaves parked: from now on an unfinished journal must be told to the next one. */
  started(): void;
  /**
   * Something that can carry voltage is about to be ordered on (called repeatedly): the mark that makes an
   * unfinished session count as a trip must stand before the order leaves.
   */
  energising(): void;
  /** A trip is decided: the latch on disk is set at once. */
  latch(trip: TripRecord): void;
  progress(what: Progress): void;
  /** Frames turned away so far, as they came from the world: counted here; a replay, which never sees them, is told. */
  rejectedFrames(counted: number): number;
  ended(outcome: Outcome): void;
}
