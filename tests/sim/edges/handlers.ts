/**
 * How each event is brought about where the machine can take it: by what a device or a person can do, at a moment
 * read from a session that went the same way before. One handler for each event.
 */
import { PROOF_EVENTS, TIMERS, type TimerId } from '../../../machines/vocabulary.js';
import type { Injection } from '../../../simulators/faults.js';
import type { EventType } from '../../../src/audit/explore/subject.js';
import type { StormCase } from '../../../src/storm/case.js';
import { variantOrNull } from '../../../src/storm/rigs.js';
import type { Visit } from './real-session.js';
import { BLIND } from './ways.js';

/** A stay in the wished state, in a session that can be had again. */
export interface Chance {
  readonly drawn: StormCase;
  readonly visit: Visit;
  /** When `parked` was left, and when the phase of the visit began. */
  readonly startedMs: number;
  readonly phaseMs: number;
}

/** Sessions that may bring the event about, the likeliest first. */
export type Handler = (chance: Chance) => readonly StormCase[];

/** A moment inside the visit, soon after it began. */
const soonMs = ({ sinceMs, untilMs }: Visit): number => sinceMs + Math.min(1, (untilMs - sinceMs) / 2);

const order =
  (what: 'stop' | 'trip-now' | 'acknowledge'): Handler =>
  ({ drawn, visit, startedMs }) => {
    const afterS = (soonMs(visit) - startedMs) / 1000;
    if (!(afterS > 0)) return [];
    return [{ ...drawn, orders: [...drawn.orders, { order: what, phase: 'securing', afterS }] }];
  };

/** ms from a fault to the step that acts on it: two or three reports of 50 ms, and a sensor's own period. */
const LEADS_MS = [125, 140, 110, 160, 90, 60, 75, 40, 180] as const;
/** What is a trip-1 in any phase under way, and what is one while the supply matters. */
const TRIP_1: readonly Pick<Injection, 'fault' | 'part'>[] = [BLIND, { fault: 'supply-not-ready' }];

/** The step that would leave the state looks at findings first: that one is aimed at, or one soon after the entry. */
const tripOne: Handler = ({ drawn, visit }) => {
  const { sinceMs, untilMs } = visit;
  const aims = untilMs - sinceMs > 250 ? [sinceMs + 200] : [untilMs, sinceMs + 50];
  return TRIP_1.flatMap((fault) =>
    aims.flatMap((aimMs) =>
      LEADS_MS.map((leadMs) => ({
        ...drawn,
        inject: [...drawn.inject, { ...fault, phase: 'start' as const, afterS: (aimMs - leadMs) / 1000 }],
      })),
    ),
  ).filter(({ inject }) => (inject.at(-1)?.afterS ?? -1) >= 0);
};

/** The longest session wished for ends in the first step after the state was entered. */
const end: Handler = ({ drawn, visit, startedMs }) => {
  const maxS = (soonMs(visit) - startedMs) / 1000;
  return [{ ...drawn, wish: { ...drawn.wish, maxS } }];
};

/** Deadlines of the rig; the others follow from other figures of it. */
const SETTING: Partial<Record<TimerId, string>> = {
  securing: 'securingS',
  'proving-presence': 'presenceS',
  'checking-isolation': 'isolationS',
  'joining-train': 'joiningS',
  'matching-voltage': 'matchingS',
  closing: 'closingS',
  ramping: 'rampingS',
  'ramping-down': 'rampingDownS',
  opening: 'openingS',
  'parting-train': 'partingS',
  bleeding: 'bleedingS',
};
/** Where in the visit the deadline may lie; the loader refuses what is too short for the rig. */
const SHARES = [0.5, 0.9, 0.2, 0.97] as const;

const runsOut =
  (timer: TimerId): Handler =>
  ({ drawn, visit, phaseMs }) => {
    const key = SETTING[timer];
    if (key === undefined) return [];
    return SHARES.flatMap((share) => {
      const deadlineMs = visit.sinceMs + share * (visit.untilMs - visit.sinceMs) - phaseMs;
      const set = { ...drawn.set, [`times.${key}`]: Number((deadlineMs / 1000).toFixed(5)) };
      return deadlineMs > 0 && variantOrNull(drawn.base, set) !== null ? [{ ...drawn, set }] : [];
    });
  };

/** From report to report in the shipped rigs, link.periodMs. */
const REPORT_MS = 50;
/** The pre-charge is called failed at its own limit; the phase's deadline lies `closingS` after it: no report between. */
const preChargeRunsOut: Handler = ({ drawn, visit }) => {
  const lastedMs = visit.untilMs - visit.sinceMs;
  const sessions = [4, 2, 6, 8].map((afterReportMs) => ({
    ...drawn,
    set: {
      ...drawn.set,
      'precharge.maxS': Number(((lastedMs - REPORT_MS + afterReportMs) / 1000).toFixed(5)),
      'times.closingS': 0.041,
    },
  }));
  return sessions.filter(({ base, set }) => variantOrNull(base, set) !== null);
};
/** No report of the current comes after one or two under way, and none is called old before the timer has run out. */
const currentUnknown: Handler = ({ drawn, visit }) =>
  [REPORT_MS + 1, 1].map((afterMs) => ({
    ...drawn,
    inject: [
      ...drawn.inject,
      { fault: 'sensor-frozen', part: 'meter', phase: 'start', afterS: (visit.sinceMs + afterMs) / 1000 },
    ],
  }));

/** The ways themselves bring it about, as a sound device does. */
const byItself: Handler = () => [];

const timers = Object.fromEntries(TIMERS.map((t) => [`elapsed.${t}`, runsOut(t)]));
const proofs = Object.fromEntries(PROOF_EVENTS.map((p) => [p, byItself]));

export const HANDLERS = {
  ...proofs,
  ...timers,
  'elapsed.pre-charging': preChargeRunsOut,
  'elapsed.tripped-ramping-down': currentUnknown,
  start: byItself,
  stop: order('stop'),
  acknowledge: order('acknowledge'),
  end,
  'trip-1': tripOne,
  'trip-0': order('trip-now'),
} as Readonly<Record<EventType, Handler>>;
