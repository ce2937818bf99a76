/** The reading of the hard-wired stop chain. One sample is enough: the chain itself has already acted. */
import type { Check } from './check.js';
import { flag, stateWatch } from './finding.js';
import { CALM, type Watch, watch } from './watch.js';

export const stopChain: Check<Watch> = {
  name: 'stop-chain',
  codes: ['stop-chain-open'],
  initial: () => CALM,
  run(before, seen) {
    const stop = seen.stop;
    if (stop === null || seen.phase === 'released') return { state: CALM, findings: [] };
    const ok = stop.value.chainClosed === 1 && stop.value.buttonPressed === 0;
    const next = watch(before, ok, stop.isNew, seen.nowMs);
    const against = flag(1, 'stop.chainClosed');
    return {
      state: next,
      findings: [stateWatch('stop-chain-open', next, 1, 0, stop.value.chainClosed, against, seen.nowMs)],
    };
  },
};
