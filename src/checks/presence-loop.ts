/**
 * Presence on a cable rig: the pilot loop. Genuine only while mean and asymmetry fit a sound diode loop.
 */
import type { Rig } from '../rig/schema.js';
import type { Code } from './catalogue.js';
import { type Check, type Finding, isFresh, type Observation } from './check.js';
import { type Against, state } from './finding.js';
import {
  type LoopFigures,
  type LoopVerdict,
  loopFigures,
  openBelowA,
  type Pilot,
  SYMMETRIC,
} from './loop-figures.js';
import { afterTrip, between } from './phases.js';
import { CALM, ripe, since, type Watch, watch } from './watch.js';

export interface LoopState {
  readonly bad: Watch;
  /** Genuine windows in a row since proving began. */
  readonly genuine: number;
  readonly proven: boolean;
  /** The source was on in the window before: the next one lies wholly after switching it on. */
  readonly wasOn: boolean;
  readonly figures: LoopFigures | null;
}

/** Windows in a row that make the proof. */
const GENUINE_WINDOWS = 3;
/** While live: the first bad window may be half old state, the second is not. */
const LIVE_WINDOWS = 2;
/** While proving: the source has just been switched on; give it this before judging. */
const PROVING_WINDOWS = 4;
const PROVING_MS = 300;

const CODE_OF: Readonly<Record<Exclude<LoopVerdict, 'genuine'>, Code>> = {
  open: 'loop-open',
  crushed: 'loop-crushed',
  reversed: 'loop-reversed',
  leaky: 'loop-leaky',
  doubtful: 'loop-leaky',
  'high-resistance': 'loop-high-resistance',
  unclear: 'loop-unclear',
};
const CODES = [...new Set(Object.values(CODE_OF))];
const INITIAL: LoopState = { bad: CALM, genuine: 0, proven: false, wasOn: false, figures: null };

const NO_EVIDENCE = {
  reading: Number.NaN,
  against: { limit: Number.NaN, unit: 'A', setting: 'pilot' },
};

function evidence(code: Code, f: LoopFigures, pilot: Pilot): { reading: number; against: Against } {
  switch (code) {
    case 'loop-high-resistance':
      return {
        reading: f.seriesOhm,
        against: { limit: pilot.maxSeriesOhm, unit: 'ohm', setting: 'pilot.maxSeriesOhm' },
      };
    case 'loop-leaky': {
      const belowMin = !(f.shuntOhm >= pilot.minShuntOhm);
      return {
        reading: f.shuntOhm,
        against: belowMin
          ? { limit: pilot.minShuntOhm, unit: 'ohm', setting: 'pilot.minShuntOhm' }
          : { limit: pilot.genuineShuntOhm, unit: 'ohm', setting: 'pilot.genuineShuntOhm' },
      };
    }
    case 'loop-open':
      return {
        reading: f.rmsA,
        against: { limit: openBelowA(pilot), unit: 'A', setting: 'pilot.sourceOhm' },
      };
    default:
      return {
        reading: f.asymmetry,
        against: { limit: SYMMETRIC, unit: 'share', setting: 'pilot.diodeDropV' },
      };
  }
}

/** From the first proof until the train is parted; afterwards the plug is held by its lock alone. */
const speaks = (seen: Observation): boolean =>
  between(seen.phase, 'proving-presence', 'parting-train') ||
  seen.phase === 'tripped-ramping-down' ||
  // After a trip only to tell whether the cause is still there.
  (afterTrip(seen.phase) && seen.ordered.pilotOn);

export const presenceLoop: Check<LoopState> = {
  name: 'presence-loop',
  codes: CODES,
  initial: () => INITIAL,
  run(before, seen, rig: Rig) {
    const pilot = rig.pilot;
    const loop = seen.loop;
    if (pilot === undefined || loop === null || !speaks(seen)) return { state: INITIAL, findings: [] };
    const proving = seen.phase === 'proving-presence';
    let next = before;
    const isOn = loop.value.pilotOn === 1;
    if (loop.isNew && proving && (!seen.ordered.pilotOn || (isOn && !before.wasOn))) {
      // Before the source is on there is nothing to judge, and the window that straddles the switching lies.
      next = { ...before, wasOn: isOn };
    } else if (loop.isNew) {
      const figures = loopFigures(loop.value, pilot);
      const ok = figures.verdict === 'genuine' && isOn;
      const genuine = ok ? before.genuine + 1 : 0;
      const bad = watch(before.bad, ok, true, seen.nowMs);
      const proven = before.proven || genuine >= GENUINE_WINDOWS;
      next = { bad, genuine, proven, wasOn: isOn, figures };
    }
    // A window without any current was wholly taken with the loop open: no second one is needed.
    const liveSamples = next.figures?.verdict === 'open' ? 1 : LIVE_WINDOWS;
    const failing = proving ? ripe(next.bad, PROVING_WINDOWS, PROVING_MS) : ripe(next.bad, liveSamples);
    const verdict = next.figures?.verdict ?? 'genuine';
    const code = verdict === 'genuine' ? (failing ? 'loop-unclear' : null) : CODE_OF[verdict];
    const findings: Finding[] = CODES.map((each) => {
      const isFailing = failing && each === code;
      const { reading, against } = next.figures === null ? NO_EVIDENCE : evidence(each, next.figures, pilot);
      return state(each, isFailing, reading, against, isFailing ? since(next.bad, seen.nowMs) : seen.nowMs);
    });
    const stands = next.proven && !failing && isFresh(loop, rig.link.fastReadingMs);
    // Once lost, the proof must be earned again by windows in a row.
    const state_ = failing ? { ...next, proven: false } : next;
    return { state: state_, findings, proofs: stands ? ['presence'] : [] };
  },
};
