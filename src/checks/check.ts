/**
 * What a check is: a pure function from (own state, what is seen, rig) to (own state, findings).
 *
 * One file per check. Each owns its hysteresis and debounce; none has a clock, a timer or memory outside its
 * state. A check sees the world only through `Observation`. The tick is an observation like any other, so a
 * silence is seen without anything arriving.
 *
 * Two house rules keep a "no" trustworthy:
 * - Conditions are stated positively (`ok = value <= limit`), so that NaN, which is how "cannot be read"
 *   arrives, fails.
 * - A value older than its deadline, or whose sample counter stands still, counts as failing for every proof
 *   (use `isFresh`). Nothing is proven by a reading from an earlier phase or session.
 *
 * And one keeps a session cheap: a state that changes with every sample is laid out field by field, not spread
 * (`{ ...before, x }`). The engine gives each spread a shape of its own, and a state spread from the last one in
 * every step ends on its slowest path, field by field (seen in the profile of a session).
 */
import type { Phase, ReadingOf, Role } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { Code } from './catalogue.js';

/** The last reading of a role with its age; `ageMs` counts from the last *advance of the sample counter*. */
export interface Seen<R extends Role> {
  readonly value: ReadingOf<R>;
  /** Since a new sample was last received (a repeated counter does not renew it). */
  readonly ageMs: number;
  /** True in exactly the step that brought a new sample of this role. */
  readonly isNew: boolean;
}

/** What the supervisor has ordered so far in this session (orders, never assumed to be obeyed). */
export interface Ordered {
  readonly converterEnabled: boolean;
  readonly setpointA: number;
  readonly voltageLimitV: number;
  readonly closedP: boolean;
  readonly closedN: boolean;
  readonly closedPre: boolean;
  readonly trainClosed: boolean;
  /** One per raft, in rig order. */
  readonly raftJoined: readonly boolean[];
  readonly bleedOutput: boolean;
  readonly bleedPlug: boolean;
  readonly locked: boolean;
  readonly pilotOn: boolean;
  readonly isolationPoint: number;
  readonly isolationResistor: number;
  /** ms since each group was last changed; Infinity before the first order. */
  readonly sinceMs: {
    readonly converter: number;
    readonly setpoint: number;
    readonly contactorP: number;
    readonly contactorN: number;
    readonly pre: number;
    readonly train: number;
    readonly rafts: number;
    readonly bleeder: number;
    readonly latch: number;
    readonly pilot: number;
    readonly isolation: number;
    readonly makeSafe: number;
  };
}

/** What the operator asked of this session. */
export interface Wish {
  /** 0..1, or NaN when the wish is an energy. */
  readonly targetSoc: number;
  /** Energy to the battery in kWh, or NaN when the wish is a state of charge. */
  readonly targetEnergyKwh: number;
  /** Longest session in seconds from the start order; Infinity when open. */
  readonly maxS: number;
  /** No more than this, A; Infinity when nothing was said. */
  readonly maxCurrentA: number;
}

/** Nothing asked for beyond what the rig permits. */
export const NO_WISH: Wish = {
  targetSoc: Number.NaN,
  targetEnergyKwh: Number.NaN,
  maxS: Number.POSITIVE_INFINITY,
  maxCurrentA: Number.POSITIVE_INFINITY,
};

/** What is not asked for, or was written as null because JSON has no such number, is as in `NO_WISH`. */
export const wishOf = (asked: { readonly [K in keyof Wish]?: number | null | undefined }): Wish => ({
  targetSoc: asked.targetSoc ?? NO_WISH.targetSoc,
  targetEnergyKwh: asked.targetEnergyKwh ?? NO_WISH.targetEnergyKwh,
  maxS: asked.maxS ?? NO_WISH.maxS,
  maxCurrentA: asked.maxCurrentA ?? NO_WISH.maxCurrentA,
});

/** How the isolation device should be connected now (values of ISOLATION_POINT, ISOLATION_RESISTOR). */
export interface IsolationAsk {
  readonly point: number;
  readonly resistor: number;
}

export interface Observation {
  /** Monotonic session clock, ms. */
  readonly nowMs: number;
  /** ms since the previous observation. */
  readonly stepMs: number;
  readonly phase: Phase;
  /** ms in this phase. */
  readonly phaseMs: number;
  /** Phase in which the trip was decided; null before any trip. */
  readonly trippedIn: Phase | null;
  readonly device: readonly (Seen<'device'> | null)[]; // one per port, in rig order
  readonly converter: Seen<'converter'> | null;
  readonly meter: Seen<'meter'> | null;
  readonly loop: Seen<'loop'> | null;
  readonly isolation: Seen<'isolation'> | null;
  readonly contactor: Seen<'contactor'> | null;
  readonly bleeder: Seen<'bleeder'> | null;
  readonly latch: Seen<'latch'> | null;
  readonly berth: Seen<'berth'> | null;
  readonly train: Seen<'train'> | null;
  readonly rafts: readonly (Seen<'raft'> | null)[];
  /** Indices of the rafts that report themselves joined; here, because ten checks a step ask for them. */
  readonly joined: readonly number[];
  readonly supply: Seen<'supply'> | null;
  readonly stop: Seen<'stop'> | null;
  readonly ordered: Ordered;
  readonly wish: Wish;
  /** What the governor did last: set-point, least limit then in force, slope permitted upward, hold point. */
  readonly governed: {
    readonly setpointA: number;
    readonly leastLimitA: number;
    readonly slopeAPerS: number;
    readonly holdPointA: number;
  };
  /** ms since the last valid frame, one per port; Infinity when there was none in this session. */
  readonly portSilentMs: readonly number[];
  readonly journal: { readonly lagMs: number; readonly failed: boolean };
  /** Energy delivered to the battery so far in this session, kWh, by the supervisor's own account. */
  readonly energyToBatteryKwh: number;
  /** ms since the start order; 0 while parked. */
  readonly sessionMs: number;
}

/**
 * One statement of a check about one code. Every check states each of its codes that it evaluated in this
 * observation, failing or not; a code it does not evaluate in this phase is left out.
 */
export interface Finding {
  readonly code: Code;
  readonly failing: boolean;
  /** The figure the verdict rests on, and what it is held against, in `unit`. NaN when unreadable. */
  readonly reading: number;
  readonly limit: number;
  readonly unit: string;
  /** Config key of the limit, e.g. `isolation.minOhmPerVolt`. */
  readonly setting: string;
  /** Session ms of the first out-of-limit sample of this run of failing samples; equals nowMs when not failing. */
  readonly sinceMs: number;
  /** Which one, where there are several: a pole, a raft, a port, a shoe. */
  readonly part?: string;
}

/** A proof stands only while the check that owns it says so, on fresh readings of the current phase. */
export type Proof =
  | 'secured' // securing
  | 'presence' // proving-presence onward
  | 'isolation-dead' // checking-isolation: charger and cable side, by injection
  | 'train-closed' // joining-train: train contactors confirmed closed
  | 'rafts-joined-all'
  | 'rafts-joined-some' // at least one, the rest left out and named
  | 'isolation-joined' // joining-train: live network by known resistor, raft isolation, stored charge
  | 'voltage-matched'
  | 'pre-charged'
  | 'closed-p' // auxiliary of P
  | 'closed-n'
  | 'poles-follow' // both poles closed, by volts
  | 'at-hold-point' // measured current stands at the hold-point set-point
  | 'hold-point-passed' // isolation and contact drop looked at again there
  | 'at-limit' // ramp finished: the set-point is at the least limit
  | 'tapering' // the battery's own ceiling has begun to bind
  | 'current-zero' // below the routine break limit, set-point zero
  | 'open-p' // pole P proven open by auxiliary and volts
  | 'open-n'
  | 'train-open'
  | 'output-dead'
  | 'plug-dead'
  | 'plug-free';

/** Why a session ends as wished. */
export type EndReason =
  | 'target'
  | 'ceiling'
  | 'weakest-cell'
  | 'operator'
  | 'deadline'
  | 'derated-out'
  | 'journal';

/** A named upper bound for the current; the governor takes the least. */
export interface CurrentLimit {
  /** Name for people, e.g. `cable`, `raft-2`, `supply`, `cell ceiling`. */
  readonly limit: string;
  readonly currentA: number;
}

export interface CheckResult<S> {
  readonly state: S;
  readonly findings: readonly Finding[];
  /** Proofs this check owns and which stand now. */
  readonly proofs?: readonly Proof[];
  readonly limits?: readonly CurrentLimit[];
  readonly end?: EndReason;
  /** Raft (index from 0) that may be joined next, if any; from the raft-joining check only. */
  readonly mayJoinRaft?: number;
  /**
   * How the isolation device should be connected now; absent: this check does not care. At most one check
   * asks in any phase. The supervisor orders `isolate` when this differs from what it ordered last.
   */
  readonly ask?: IsolationAsk;
}

export interface Check<S> {
  readonly name: string;
  /** Every code this check can state. */
  readonly codes: readonly Code[];
  readonly initial: (rig: Rig) => S;
  readonly run: (state: S, seen: Observation, rig: Rig) => CheckResult<S>;
}

/** True when the role was seen and its newest sample is no older than `deadlineMs`. */
export function isFresh<R extends Role>(seen: Seen<R> | null, deadlineMs: number): seen is Seen<R> {
  return seen !== null && seen.ageMs <= deadlineMs;
}

/**
 * False while the newest sample came in before the devices were last told to make safe: what a pole or a side was
 * before that order says nothing about what it is after it.
 */
export const isAfterMakeSafe = ({ ageMs }: Pick<Seen<Role>, 'ageMs'>, { ordered }: Observation): boolean =>
  ageMs < ordered.sinceMs.makeSafe;
