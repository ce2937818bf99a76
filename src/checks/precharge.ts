/**
 * The output capacitor filled through the pre-charge resistor: an exponential of known time constant. Far too
 * fast means the resistor is bridged; not there in time means it is open or something draws current.
 */
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isFresh } from './check.js';
import { state, stateWatch } from './finding.js';
import { CALM, type Watch, watch } from './watch.js';

export interface PrechargeState {
  /** Difference across the resistor and when, at the last sample; NaN before the first. */
  readonly differenceV: number;
  readonly atMs: number;
  /** Shortest time constant seen on the way, s. */
  readonly tauS: number;
  readonly fast: Watch;
  readonly good: number;
}

const INITIAL: PrechargeState = {
  differenceV: Number.NaN,
  atMs: Number.NaN,
  tauS: Number.POSITIVE_INFINITY,
  fast: CALM,
  good: 0,
};

/** Faster than this share of the expected time constant is no tolerance of resistor and capacitor. */
const FAST_SHARE = 0.4;
/** Below this share of the train's voltage the difference says nothing about the time constant any more. */
const TELLING_SHARE = 0.15;
const SAMPLES = 3;

/** Time constant from two differences across the resistor; Infinity while nothing flows. */
export function timeConstantS(fromV: number, toV: number, seconds: number): number {
  // Nothing left to see is taken as one volt left: an upper bound that still tells a bridge from a resistor.
  const ratio = fromV / Math.max(Math.abs(toV), 1);
  return ratio > 1 ? seconds / Math.log(ratio) : Number.POSITIVE_INFINITY;
}

export const precharge: Check<PrechargeState> = {
  name: 'precharge',
  codes: ['precharge-resistor-shorted', 'precharge-failed'],
  initial: () => INITIAL,
  run(before, seen, rig: Rig) {
    const { meter } = seen;
    if (rig.precharge === undefined || meter === null) return { state: INITIAL, findings: [] };
    if (seen.phase !== 'pre-charging' && seen.phase !== 'closing') return { state: INITIAL, findings: [] };
    const expectedS = rig.precharge.resistorOhm * rig.converter.capacitanceF;
    let s = before;
    if (meter.isNew) {
      const differenceV = Math.abs(meter.value.plugV - meter.value.outputV);
      const seconds = (seen.nowMs - before.atMs) / 1000;
      // Stated of the difference before the step: at the start all of it is left.
      const telling =
        seen.phase === 'pre-charging' && before.differenceV >= TELLING_SHARE * Math.abs(meter.value.plugV);
      const tauS = telling
        ? timeConstantS(before.differenceV, differenceV, seconds)
        : Number.POSITIVE_INFINITY;
      const shortestS = Math.min(before.tauS, tauS);
      const isGood =
        differenceV <= rig.contactors.matchV &&
        meter.value.plugV > rig.bleeder.safeV &&
        shortestS >= FAST_SHARE * expectedS;
      s = {
        differenceV,
        atMs: seen.nowMs,
        tauS: shortestS,
        // One step that fast is physics enough: no resistor of that size lets it through.
        fast: watch(before.fast, shortestS >= FAST_SHARE * expectedS, true, seen.nowMs),
        good: isGood ? before.good + 1 : 0,
      };
    }
    const findings: Finding[] = [];
    const shorted = { limit: FAST_SHARE * expectedS, unit: 's', setting: 'precharge.resistorOhm' };
    findings.push(stateWatch('precharge-resistor-shorted', s.fast, 1, 0, s.tauS, shorted, seen.nowMs));
    if (seen.phase === 'pre-charging') {
      const late = s.good < SAMPLES && !(seen.phaseMs <= 1000 * rig.precharge.maxS);
      const against = { limit: rig.contactors.matchV, unit: 'V', setting: 'precharge.maxS' };
      findings.push(state('precharge-failed', late, s.differenceV, against, seen.nowMs));
    }
    const stands = s.good >= SAMPLES && isFresh(meter, rig.link.fastReadingMs);
    return { state: s, findings, proofs: stands ? ['pre-charged'] : [] };
  },
};
