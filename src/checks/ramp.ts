/**
 * The rise of the current: never steeper than governed, and standing where the ramp is to stand.
 *
 * A rise is measured from sample to sample over a short window. A current that jumps above its set-point is
 * too steep; one that runs over its set-point by a few percent at the end of a ramp is an overshoot, which
 * has a check of its own.
 */
import type { Rig } from '../rig/schema.js';
import { type Check, isFresh, type Observation, type Proof } from './check.js';
import { state } from './finding.js';
import { between } from './phases.js';
import { recentWith } from './recent.js';
import { standsAtHoldPoint, trackingA } from './tolerance.js';
import { CALM, ripe, since, type Watch, watch } from './watch.js';

interface Point {
  readonly tMs: number;
  readonly currentA: number;
}
export interface RampState {
  /** Samples of the last quarter of a second. */
  readonly window: readonly Point[];
  readonly steep: Watch;
  readonly slopeAPerS: number;
  readonly atHold: number;
  readonly atLimit: number;
  /** Least limit when `atLimit` began to count. */
  readonly limitA: number;
}

const INITIAL: RampState = { window: [], steep: CALM, slopeAPerS: 0, atHold: 0, atLimit: 0, limitA: 0 };
const WINDOW_MS = 250;
const MAX_POINTS = 32;
const SAMPLES = 3;
/** A limit that is being folded back or given back is not where a ramp ends: it must stand this long. */
const STEADY_SAMPLES = 4;
const STEADY_SHARE = 0.005;
/** No hold point takes this long. */
const HOLD_POINT_OVER_MS = 60_000;
/** A current above its set-point by no more than this share is an overshoot. */
export const OVERSHOOT_SHARE = 0.2;

/** Most the current may rise over `ms`, with room for ripple and the settling of the loop. */
function allowedRiseA(rig: Rig, slopeAPerS: number, currentA: number, ms: number): number {
  const rippleA = (rig.converter.ripplePercent / 100) * Math.abs(currentA);
  const floorA = trackingA(rig, currentA) + rippleA;
  return rig.ramp.steepFactor * slopeAPerS * (ms / 1000) + floorA;
}

/**
 * Greatest rise into the newest sample beyond what was allowed; negative when all is well. A sample that could not
 * be read failed when it came: were it compared with those after it, a single one would trip.
 */
function excessRise(
  window: readonly Point[],
  governedAPerS: number,
  rig: Rig,
): { excessA: number; slopeAPerS: number } {
  const last = window.at(-1)!;
  let excessA = Number.NEGATIVE_INFINITY;
  let slopeAPerS = Number.isNaN(last.currentA) ? Number.NaN : 0;
  for (let i = 0; i < window.length - 1; i++) {
    const point = window[i]!;
    const ms = last.tMs - point.tMs;
    const rise = last.currentA - point.currentA;
    const over = rise - allowedRiseA(rig, governedAPerS, last.currentA, ms);
    if (over > excessA) {
      excessA = over;
      slopeAPerS = (1000 * rise) / ms;
    }
  }
  return { excessA, slopeAPerS };
}

export const ramp: Check<RampState> = {
  name: 'ramp',
  codes: ['current-too-steep'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { meter, nowMs } = seen;
    if (!between(seen.phase, 'ramping', 'tapering') || meter === null)
      return { state: INITIAL, findings: [] };
    // A set-point may rise with the governor's slope at most; the rig's own slope bounds that from above.
    const governedAPerS = Math.min(Math.max(seen.governed.slopeAPerS, 0), rig.ramp.upAPerS);
    let s = before;
    if (meter.isNew) {
      // Both instruments must see the rise: one of them alone is a disagreement, not a current.
      const currentA = Math.min(meter.value.currentA, seen.converter?.value.outputA ?? Number.NaN);
      const window = recentWith(before.window, { tMs: nowMs, currentA }, WINDOW_MS, MAX_POINTS);
      const { excessA, slopeAPerS } = excessRise(window, governedAPerS, rig);
      const setA = seen.governed.setpointA;
      // Into a set-point from below within its tolerance, or a little over it: the overshoot check's matter.
      const isOvershoot = currentA > setA && currentA <= (1 + OVERSHOOT_SHARE) * setA;
      const ok = Number.isFinite(currentA) && (excessA <= 0 || isOvershoot);
      const isAtHold = seen.phase === 'ramping' && standsAtHoldPoint(seen, rig);
      const limit = atLimitNow(before, seen);
      s = {
        window,
        steep: watch(before.steep, ok, true, nowMs),
        slopeAPerS,
        atHold: isAtHold ? before.atHold + 1 : 0,
        atLimit: limit.samples,
        limitA: limit.currentA,
      };
    }
    const failing = ripe(s.steep, 2);
    const against = {
      limit: rig.ramp.steepFactor * governedAPerS,
      unit: 'A/s',
      setting: 'ramp.steepFactor',
    };
    const sinceMs = failing ? since(s.steep, nowMs) : nowMs;
    const proofs: Proof[] = [];
    if (isFresh(meter, rig.link.fastReadingMs)) {
      if (s.atHold >= SAMPLES) proofs.push('at-hold-point');
      if (s.atLimit >= STEADY_SAMPLES) proofs.push('at-limit');
    }
    return {
      state: s,
      findings: [state('current-too-steep', failing, s.slopeAPerS, against, sinceMs)],
      proofs,
    };
  },
};

/**
 * The set-point has nowhere further to rise. At the hold point it only waits: that is not the limit, unless a
 * limit of just that height is still there long after the hold point must have been passed.
 */
function isAtLimit(seen: Observation): boolean {
  const { setpointA, leastLimitA, holdPointA } = seen.governed;
  const waits = Math.abs(leastLimitA - holdPointA) <= 0.5 && !(seen.phaseMs >= HOLD_POINT_OVER_MS);
  const stands = setpointA > 0 && setpointA >= leastLimitA - Math.max(0.5, 0.002 * leastLimitA);
  return seen.phase === 'ramping' && stands && !waits;
}

function atLimitNow(before: RampState, seen: Observation): { samples: number; currentA: number } {
  const { leastLimitA } = seen.governed;
  if (!isAtLimit(seen)) return { samples: 0, currentA: leastLimitA };
  const steady = Math.abs(leastLimitA - before.limitA) <= Math.max(0.3, STEADY_SHARE * before.limitA);
  return steady
    ? { samples: before.atLimit + 1, currentA: before.limitA }
    : { samples: 1, currentA: leastLimitA };
}
