/**
 * Current out of the train: a pack feeding the charger, as through a failed rectifier. Opening is left out:
 * there the pack can only drive the output bleeder, through a pole that did not open, and that has its own name.
 */
import type { Rig } from '../rig/schema.js';
import type { Check } from './check.js';
import { stateWatch } from './finding.js';
import { between, underCurrent } from './phases.js';
import { CALM, type Watch, watch } from './watch.js';

/** What a meter may show at no current. */
const leastA = (rig: Rig): number => -Math.max(rig.plausibility.currentFloorA, 1);

export const reverseCurrent: Check<Watch> = {
  name: 'reverse-current',
  codes: ['reverse-current'],
  initial: () => CALM,
  run(before, seen, rig) {
    const { meter } = seen;
    const speaks = between(seen.phase, 'closing', 'ramping-down') || underCurrent(seen.phase);
    if (!speaks || meter === null) return { state: CALM, findings: [] };
    const { currentA, currentMaxA } = meter.value;
    const next = watch(before, currentA >= leastA(rig), meter.isNew, seen.nowMs);
    // The pulse of two capacitors meeting at closing is over before the next report, a pack feeding back is
    // not; and when even the greatest current of a whole report was negative, it has lasted a report already.
    const samples = currentMaxA < leastA(rig) ? 1 : 2;
    const against = { limit: leastA(rig), unit: 'A', setting: 'plausibility.currentFloorA' };
    return {
      state: next,
      findings: [stateWatch('reverse-current', next, samples, 0, currentA, against, seen.nowMs)],
    };
  },
};
