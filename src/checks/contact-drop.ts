/**
 * Voltage across one plug contact (or shoe): what is lost between charger and train beyond the cable itself.
 * It needs no sensor in the contact, so a blind temperature sensor hides nothing.
 *
 * The two voltmeters differ a little; the difference is learned while no current flows and taken off. At the
 * hold point the drop is small, so there it is also held against the share of the limit that the share of
 * the current permits, plus what the voltmeters may be off.
 */
import { cableLoopOhm } from '../rig/ratings.js';
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Check, isFresh, type Observation } from './check.js';
import { stateWatch } from './finding.js';
import { between, underCurrent } from './phases.js';
import { standsAtHoldPoint } from './tolerance.js';
import { CALM, type Watch, watch } from './watch.js';

export interface DropState {
  /** plugV − trainV at no current, averaged; NaN before it was seen. */
  readonly offsetV: number;
  readonly offsetSamples: number;
  /** Averages over about a second, and how many samples since the current was enough. */
  readonly dropV: number;
  readonly currentA: number;
  readonly samples: number;
  readonly bad: Watch;
}

const INITIAL: DropState = {
  offsetV: Number.NaN,
  offsetSamples: 0,
  dropV: 0,
  currentA: 0,
  samples: 0,
  bad: CALM,
};

/** Below this share of the rated current the drop drowns in the voltmeters' noise. */
const LEAST_SHARE = 0.08;
const AVERAGE_MS = 1000;
/** Samples before an average may be judged. */
const LEAST_SAMPLES = 20;
/** A contact that lifts has a name of its own, said sooner than this many samples. */
const BAD_SAMPLES = 4;
/** What an averaged difference of two voltmeters may still be off, per contact. */
const UNCERTAIN_V = 0.05;
/** Current at which the voltmeters are compared. */
const NO_CURRENT_A = 1;
/** The cable is warmer or cooler than its sensor by no more than this matters; a lost sensor is taken as warm. */
const ASSUMED_CABLE_C = 60;

/** Drop across both contacts together at this sample; NaN when a volt cannot be read. */
function contactsV(meter: ReadingOf<'meter'>, train: ReadingOf<'train'>, rig: Rig, offsetV: number): number {
  const cableC = Number.isFinite(meter.cableC) ? meter.cableC : ASSUMED_CABLE_C;
  const cableV = meter.currentA * cableLoopOhm(rig.connection.cable, cableC);
  return meter.plugV - train.trainV - (Number.isNaN(offsetV) ? 0 : offsetV) - cableV;
}

function learnOffset(s: DropState, seen: Observation, rig: Rig): DropState {
  const meter = seen.meter;
  const train = seen.train?.value;
  if (meter === null || !meter.isNew || train?.closedP !== 1 || train.closedN !== 1) return s;
  const still =
    between(seen.phase, 'matching-voltage', 'closing') && Math.abs(meter.value.currentA) <= NO_CURRENT_A;
  const differenceV = meter.value.plugV - train.trainV;
  // Beyond plausibility it is not an offset to be forgiven.
  if (!still || !(Math.abs(differenceV) <= rig.plausibility.voltageV)) return s;
  const weight = 1 / Math.min(s.offsetSamples + 1, 40);
  const offsetV = Number.isNaN(s.offsetV) ? differenceV : s.offsetV + weight * (differenceV - s.offsetV);
  const { dropV, currentA, samples, bad } = s;
  return { offsetV, offsetSamples: s.offsetSamples + 1, dropV, currentA, samples, bad };
}

/** True once the drop has been averaged at the present current and is within both limits. */
export const dropIsGood = (s: DropState, atHoldPoint: boolean, rig: Rig): boolean =>
  s.samples >= LEAST_SAMPLES && s.dropV / 2 <= limitV(s.currentA, atHoldPoint, rig);

function limitV(currentA: number, atHoldPoint: boolean, rig: Rig): number {
  const { maxDropV } = rig.connection.contact;
  const share = currentA / rig.connection.ratedCurrentA;
  return atHoldPoint ? Math.min(maxDropV, maxDropV * share + UNCERTAIN_V) : maxDropV;
}

export const contactDrop: Check<DropState> = {
  name: 'contact-drop',
  codes: ['contact-drop'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { meter, train } = seen;
    if (!between(seen.phase, 'matching-voltage', 'ramping-down') && !underCurrent(seen.phase)) {
      return { state: INITIAL, findings: [] };
    }
    const s = learnOffset(before, seen, rig);
    const { offsetV, offsetSamples } = s;
    let { dropV, currentA, samples } = s;
    const enough = meter !== null && meter.value.currentA >= LEAST_SHARE * rig.connection.ratedCurrentA;
    if (!underCurrent(seen.phase) || !enough || !isFresh(train, rig.link.slowReadingMs)) {
      return {
        state: { offsetV, offsetSamples, dropV, currentA, samples: 0, bad: CALM },
        findings: [],
      };
    }
    if (meter.isNew) {
      const sampleV = contactsV(meter.value, train.value, rig, offsetV);
      const sampleA = meter.value.currentA;
      const share = samples === 0 ? 1 : Math.max(rig.link.periodMs / AVERAGE_MS, 1 / (samples + 1));
      dropV = samples === 0 ? sampleV : dropV + share * (sampleV - dropV);
      currentA = samples === 0 ? sampleA : currentA + share * (sampleA - currentA);
      // An unreadable volt must not poison the average for ever: it fails now, and the average starts anew.
      samples = Number.isNaN(sampleV) ? 0 : samples + 1;
    }
    const atHoldPoint = seen.phase === 'ramping' && standsAtHoldPoint(seen, rig);
    const judged = samples >= LEAST_SAMPLES || Number.isNaN(dropV);
    const limit = limitV(currentA, atHoldPoint, rig);
    const bad = watch(s.bad, !judged || dropV / 2 <= limit, meter.isNew, seen.nowMs);
    const against = { limit, unit: 'V', setting: 'connection.contact.maxDropV' };
    return {
      state: { offsetV, offsetSamples, dropV, currentA, samples, bad },
      findings: [stateWatch('contact-drop', bad, BAD_SAMPLES, 0, dropV / 2, against, seen.nowMs)],
    };
  },
};
