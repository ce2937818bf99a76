/** Each joined raft's own isolation figure, as its management unit reports it. */
import { type Check, isFresh } from './check.js';
import { stateWatch } from './finding.js';
import { between } from './phases.js';
import { CALM, type Watch, watch } from './watch.js';
import { raftName } from './where.js';

export const raftIsolation: Check<readonly Watch[]> = {
  name: 'raft-isolation',
  codes: ['raft-isolation-low'],
  initial: (rig) => rig.battery.rafts.map(() => CALM),
  run(before, seen, rig) {
    const speaks =
      between(seen.phase, 'joining-train', 'ramping-down') || seen.phase === 'tripped-ramping-down';
    if (!speaks) return { state: before.map(() => CALM), findings: [] };
    const state = before.map((w, index) => {
      const raft = seen.rafts[index] ?? null;
      if (!isFresh(raft, rig.link.slowReadingMs) || raft.value.joined !== 1) return CALM;
      const limit = rig.battery.raft.minIsolationOhmPerVolt * raft.value.packV;
      return watch(w, raft.value.isolationOhm >= limit, raft.isNew, seen.nowMs);
    });
    const findings = seen.rafts.flatMap((raft, index) => {
      const w = state[index];
      if (raft === null || w === undefined || raft.value.joined !== 1) return [];
      const against = {
        limit: rig.battery.raft.minIsolationOhmPerVolt * raft.value.packV,
        unit: 'ohm',
        setting: 'battery.raft.minIsolationOhmPerVolt',
      };
      const { isolationOhm } = raft.value;
      return [
        stateWatch('raft-isolation-low', w, 2, 0, isolationOhm, against, seen.nowMs, raftName(rig, index)),
      ];
    });
    return { state, findings };
  },
};
