/**
 * The converter does as it is told: its current follows the set-point, falls when ordered down, and stops.
 * Judged by the converter's own measurement; whether that tells the truth is the plausibility check's matter.
 */
import { MAKE_SAFE } from '../rig/make-safe.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isFresh, type Observation, type Seen } from './check.js';
import { stateWatch } from './finding.js';
import { afterTrip, between, underCurrent } from './phases.js';
import { trackingA } from './tolerance.js';
import { CALM, type Watch, watch } from './watch.js';
import { reportMarginMs } from './where.js';

export interface TrackingState {
  readonly off: Watch;
  readonly fault: Watch;
  readonly zero: number;
  /** Phase the running-down began in, when, and from which current; '' while not running down. */
  readonly downPhase: string;
  readonly downSinceMs: number;
  readonly fromA: number;
  readonly wontStop: Watch;
}

const INITIAL: TrackingState = {
  off: CALM,
  fault: CALM,
  zero: 0,
  downPhase: '',
  downSinceMs: Number.NaN,
  fromA: Number.NaN,
  wontStop: CALM,
};
/** A converter that trails its ramp is given this beyond the time the ramp needs. */
const DOWN_MARGIN_MS = 1000;
/** An overshoot has died away by then; a current that still lies above its set-point does not follow it. */
const OVERSHOOT_MS = 3000;
/** States up to this one are healthy. */
const HEALTHY = { limit: 2, unit: '', setting: 'converter.state' };
const overshootA = (rig: Rig, setpointA: number): number =>
  setpointA * (1 + rig.converter.overshootPercent / 100);
/** Headroom to the voltage limit under which the voltage loop governs and the current may lie below. */
const VOLTAGE_BOUND_V = 3;

const isRunningDown = (seen: Observation): boolean =>
  seen.phase === 'ramping-down' || seen.phase === 'tripped-ramping-down' || seen.phase === 'making-safe';

/** ms after which the current must be below the routine break limit. */
function stopsWithinMs(fromA: number, seen: Observation, rig: Rig): number {
  if (seen.phase === 'making-safe') return MAKE_SAFE.openPLatestMs + rig.contactors.openMs + DOWN_MARGIN_MS;
  const rampMs = (1000 * Math.max(0, fromA)) / rig.ramp.downAPerS;
  return rampMs + rig.converter.trackingSettleMs + reportMarginMs(rig) + DOWN_MARGIN_MS;
}

/** Follows set-point and measured current of one new converter sample. */
function follow(before: Watch, converter: Seen<'converter'>, seen: Observation, rig: Rig): Watch {
  const c = converter.value;
  // Going down is judged by arrival: a stuck converter must be called that, not a poor follower.
  if (!between(seen.phase, 'ramping', 'tapering')) return CALM;
  const errorA = c.outputA - c.appliedSetpointA;
  const toleranceA = trackingA(rig, c.appliedSetpointA);
  const voltageBound = c.outputV >= c.appliedLimitV - VOLTAGE_BOUND_V;
  const powerBound = c.outputV * c.outputA >= 0.97 * rig.converter.maxPowerW;
  const within = Math.abs(errorA) <= toleranceA || (errorA < 0 && (voltageBound || powerBound));
  return watch(before, within, converter.isNew, seen.nowMs);
}

export const tracking: Check<TrackingState> = {
  name: 'tracking',
  codes: ['current-not-tracking', 'converter-wont-stop', 'converter-fault'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { converter, meter, nowMs } = seen;
    if (converter === null || seen.phase === 'released') return { state: INITIAL, findings: [] };
    const c = converter.value;
    const healthy = c.state === 0 || c.state === 1 || c.state === 2;
    const fault = watch(before.fault, healthy, converter.isNew, nowMs);
    const findings: Finding[] = [];
    if (!afterTrip(seen.phase)) {
      findings.push(stateWatch('converter-fault', fault, 2, 0, c.state, HEALTHY, nowMs));
    }
    const currentA = meter?.value.currentA ?? Number.NaN;
    const off = follow(before.off, converter, seen, rig);
    const down = isRunningDown(seen);
    const begins = down && before.downPhase !== seen.phase;
    const downPhase = down ? seen.phase : '';
    const downSinceMs = begins ? nowMs : before.downSinceMs;
    const fromA = begins ? currentA : before.fromA;
    let wontStop = down && !begins ? before.wontStop : CALM;
    let zero = before.zero;
    const breakA = rig.contactors.routineBreakA;
    if (meter?.isNew) {
      const isZero =
        Math.max(Math.abs(currentA), Math.abs(meter.value.currentMaxA), Math.abs(c.outputA)) <= breakA;
      const due = down && nowMs - downSinceMs > stopsWithinMs(fromA, seen, rig);
      zero = isZero ? zero + 1 : 0;
      wontStop = watch(wontStop, !due || Math.abs(currentA) <= breakA, true, nowMs);
    }
    if (underCurrent(seen.phase)) {
      const settleMs = rig.converter.trackingSettleMs;
      const against = {
        limit: trackingA(rig, c.appliedSetpointA),
        unit: 'A',
        setting: 'converter.trackingPercent',
      };
      const errorA = Math.abs(c.outputA - c.appliedSetpointA);
      // An overshoot within its tolerance dies away by itself: it is a note elsewhere, and given its time here.
      const overshoots = c.outputA > c.appliedSetpointA && c.outputA <= overshootA(rig, c.appliedSetpointA);
      const forMs = overshoots ? Math.max(settleMs, OVERSHOOT_MS) : settleMs;
      findings.push(stateWatch('current-not-tracking', off, 2, forMs, errorA, against, nowMs));
    }
    if (down) {
      const against = { limit: breakA, unit: 'A', setting: 'contactors.routineBreakA' };
      findings.push(stateWatch('converter-wont-stop', wontStop, 2, 0, currentA, against, nowMs));
    }
    const fresh = isFresh(meter, rig.link.fastReadingMs) && isFresh(converter, rig.link.fastReadingMs);
    const stands = fresh && zero >= 2 && seen.ordered.setpointA === 0;
    const s: TrackingState = { off, fault, zero, downPhase, downSinceMs, fromA, wontStop };
    return { state: s, findings, proofs: stands ? ['current-zero'] : [] };
  },
};
