/**
 * The converter's output meets the train's voltage before a pole closes: within the match limit, same sign,
 * and the plug's own voltmeter agrees with the train about what is being met.
 */
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isFresh, type Observation } from './check.js';
import { state, stateWatch } from './finding.js';
import { between } from './phases.js';
import { CALM, type Watch, watch } from './watch.js';

export interface MatchState {
  readonly good: number;
  readonly reversed: Watch;
}

const SAMPLES = 3;
/** Stated shortly before the phase itself is overdue, because it says more. */
const LATE_SHARE = 0.95;
const INITIAL: MatchState = { good: 0, reversed: CALM };

function matches(meter: ReadingOf<'meter'>, trainV: number, seen: Observation, rig: Rig): boolean {
  // While probing, the output of a converter behind an open pole stands above the train by the probe.
  const allowedV = rig.contactors.matchV + (seen.phase === 'closing' ? rig.contactors.probeV : 0);
  return (
    meter.outputV > rig.bleeder.safeV &&
    trainV > rig.bleeder.safeV &&
    Math.abs(meter.outputV - trainV) <= allowedV &&
    Math.abs(meter.plugV - trainV) <= rig.plausibility.voltageV
  );
}

export const voltageMatch: Check<MatchState> = {
  name: 'voltage-match',
  codes: ['polarity-reversed', 'match-failed'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { meter, train } = seen;
    if (meter === null || train === null || !between(seen.phase, 'joining-train', 'closing')) {
      return { state: INITIAL, findings: [] };
    }
    const { safeV } = rig.bleeder;
    const { plugV } = meter.value;
    const { trainV } = train.value;
    const leastV = Math.min(plugV, trainV);
    const reversed = watch(before.reversed, leastV >= -safeV, meter.isNew, seen.nowMs);
    const findings: Finding[] = [];
    // While joining, the reversed train is only watched: the match is where polarity is asked for.
    const matching = seen.phase !== 'joining-train';
    const good = meter.isNew
      ? matching && matches(meter.value, trainV, seen, rig)
        ? before.good + 1
        : 0
      : before.good;
    if (matching) {
      const against = { limit: -safeV, unit: 'V', setting: 'bleeder.safeV' };
      findings.push(stateWatch('polarity-reversed', reversed, 2, 0, leastV, against, seen.nowMs));
    }
    if (seen.phase === 'matching-voltage') {
      const lateMs = LATE_SHARE * 1000 * rig.times.matchingS;
      const failed = good < SAMPLES && !(seen.phaseMs <= lateMs);
      const differenceV = Math.abs(meter.value.outputV - trainV);
      const against = { limit: rig.contactors.matchV, unit: 'V', setting: 'contactors.matchV' };
      findings.push(state('match-failed', failed, differenceV, against, seen.nowMs));
    }
    const fresh = isFresh(meter, rig.link.fastReadingMs) && isFresh(train, rig.link.slowReadingMs);
    const stands = matching && fresh && good >= SAMPLES;
    return { state: { good, reversed }, findings, proofs: stands ? ['voltage-matched'] : [] };
  },
};
