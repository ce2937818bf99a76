/** The record: what is not recorded is not done. Lag is a controlled stop, failure a trip. */
import type { Check } from './check.js';
import { flag, state } from './finding.js';

export interface JournalState {
  readonly lagSinceMs: number;
  readonly failedSinceMs: number;
}

const firstOf = (bad: boolean, beforeMs: number, nowMs: number): number =>
  bad ? (Number.isNaN(beforeMs) ? nowMs : beforeMs) : Number.NaN;

export const journal: Check<JournalState> = {
  name: 'journal',
  codes: ['journal-lag', 'journal-failed'],
  initial: () => ({ lagSinceMs: Number.NaN, failedSinceMs: Number.NaN }),
  run(before, seen, rig) {
    const { lagMs, failed } = seen.journal;
    const { nowMs } = seen;
    const lags = !(lagMs <= rig.journal.maxLagMs);
    const lagSinceMs = firstOf(lags, before.lagSinceMs, nowMs);
    const failedSinceMs = firstOf(failed, before.failedSinceMs, nowMs);
    const against = { limit: rig.journal.maxLagMs, unit: 'ms', setting: 'journal.maxLagMs' };
    return {
      state: { lagSinceMs, failedSinceMs },
      findings: [
        state('journal-failed', failed, failed ? 1 : 0, flag(0, 'journal'), failed ? failedSinceMs : nowMs),
        state('journal-lag', lags, lagMs, against, lags ? lagSinceMs : nowMs),
      ],
    };
  },
};
