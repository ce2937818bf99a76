/** Which part of a session a check speaks in: PHASES is in the order a session meets them. */
import { PHASES, type Phase } from '../rig/roles.js';

const INDEX: ReadonlyMap<Phase, number> = new Map(PHASES.map((phase, index) => [phase, index]));
const at = (phase: Phase): number => INDEX.get(phase) ?? -1;

/** True from `first` to `last`, both included, in the order of PHASES. */
export const between = (phase: Phase, first: Phase, last: Phase): boolean =>
  at(phase) >= at(first) && at(phase) <= at(last);

/** A session that has left `parked` and has not yet ended or tripped. */
export const inSession = (phase: Phase): boolean => between(phase, 'securing', 'bleeding');

/** Charging current may flow: both poles closed and the converter under authority. */
export const underCurrent = (phase: Phase): boolean =>
  between(phase, 'ramping', 'ramping-down') || phase === 'tripped-ramping-down';

/** Making safe or at its end: nothing is ordered closed any more. */
export const afterTrip = (phase: Phase): boolean =>
  phase === 'making-safe' || phase === 'safe' || phase === 'not-proven-dead';
