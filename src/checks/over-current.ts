/**
 * Current above what was ordered, or above what the rig may carry. A little over the set-point is a note.
 */
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isFresh, type Observation } from './check.js';
import { state, stateWatch } from './finding.js';
import { between, underCurrent } from './phases.js';
import { OVERSHOOT_SHARE } from './ramp.js';
import { recentWith } from './recent.js';
import { plausibleA, ratedA } from './tolerance.js';
import { CALM, type Watch, watch } from './watch.js';

export interface OverCurrentState {
  /** Set-points of the last moments: the current may lag behind a falling one. */
  readonly recent: readonly { readonly tMs: number; readonly setpointA: number }[];
  /** Highest current the set-points of the last moments still explain: falls no faster than the converter. */
  readonly referenceA: number;
  readonly over: Watch;
}

const MAX_RECENT = 64;
const SAMPLES = 2;
/** A jump far over a rising set-point is the ramp check's to name; this one waits a sample longer. */
const SAMPLES_AFTER_STEP = 4;
/** From this share of the tolerance on, an overshoot is worth a note. */
const NOTE_SHARE = 0.5;

/** The current both instruments vouch for; the meter's peak when they agree. */
function vouchedA(m: ReadingOf<'meter'>, seen: Observation, rig: Rig): number {
  const outputA = seen.converter?.value.outputA ?? Number.NaN;
  const agree = Math.abs(m.currentA - outputA) <= plausibleA(rig, m.currentA);
  // Only one of them sees it: that is a disagreement, and has a check of its own.
  return agree ? m.currentMaxA : Math.min(m.currentA, outputA);
}

const overA = (rig: Rig, setpointA: number): number =>
  Math.max(setpointA * (1 + rig.converter.overshootPercent / 100), setpointA + rig.converter.trackingFloorA);
const noteA = (rig: Rig, setpointA: number): number =>
  setpointA + NOTE_SHARE * (overA(rig, setpointA) - setpointA);
/** Ripple rides on a rated current, and both instruments have an error. */
const ratedMostA = (rig: Rig): number => ratedA(rig) * (1 + rig.converter.overshootPercent / 100);

const INITIAL: OverCurrentState = { recent: [], referenceA: 0, over: CALM };
/** A converter is given this share of its slope when it follows a limit that fell at once. */
const FALL_SHARE = 0.8;

/**
 * While the poles are closed the converter may carry its match current without an authority, and samples of that
 * time may arrive, all at once, when the ramp has begun.
 */
const unjudgedA = (seen: Observation, rig: Rig): number =>
  seen.ordered.converterEnabled ? rig.converter.matchCurrentA : 0;

const remember = (before: OverCurrentState, setpointA: number, seen: Observation, rig: Rig) =>
  recentWith(before.recent, { tMs: seen.nowMs, setpointA }, rig.converter.trackingSettleMs, MAX_RECENT);

export const overCurrent: Check<OverCurrentState> = {
  name: 'over-current',
  codes: ['over-current', 'overshoot-noted'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { meter, nowMs } = seen;
    const judged = underCurrent(seen.phase);
    const recent = remember(before, judged ? seen.governed.setpointA : unjudgedA(seen, rig), seen, rig);
    if (!judged) return { state: { recent, referenceA: unjudgedA(seen, rig), over: CALM }, findings: [] };
    if (!isFresh(meter, rig.link.fastReadingMs))
      return { state: { recent, referenceA: before.referenceA, over: CALM }, findings: [] };
    let highestA = 0;
    for (const each of recent) highestA = Math.max(highestA, each.setpointA);
    const fallingA = before.referenceA - FALL_SHARE * rig.ramp.downAPerS * (seen.stepMs / 1000);
    const setpointA = Math.max(highestA, fallingA);
    const currentA = vouchedA(meter.value, seen, rig);
    const governedUp = between(seen.phase, 'ramping', 'tapering');
    const limitA = governedUp ? Math.min(overA(rig, setpointA), ratedMostA(rig)) : ratedMostA(rig);
    const over = watch(before.over, currentA <= limitA, meter.isNew, nowMs);
    const isStep = governedUp && currentA > (1 + OVERSHOOT_SHARE) * setpointA && currentA <= ratedMostA(rig);
    const against = {
      limit: limitA,
      unit: 'A',
      setting: limitA < ratedMostA(rig) ? 'converter.overshootPercent' : 'connection.ratedCurrentA',
    };
    const findings: Finding[] = [
      stateWatch('over-current', over, isStep ? SAMPLES_AFTER_STEP : SAMPLES, 0, currentA, against, nowMs),
    ];
    if (governedUp) {
      const noted = currentA > noteA(rig, setpointA) && currentA <= limitA;
      findings.push(
        state(
          'overshoot-noted',
          noted,
          currentA,
          { limit: setpointA, unit: against.unit, setting: against.setting },
          nowMs,
        ),
      );
    }
    return { state: { recent, referenceA: setpointA, over }, findings };
  },
};
