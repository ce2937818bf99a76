/** Each joined raft's own isolation figure, as its management unit reports it. */
import { type Check, type Finding, isFresh } from './check.js';
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
    const findings: Finding[] = [];
    for (const index of seen.joined) {
      const w = state[index]!;
      const raft = seen.rafts[index] ?? null;
      if (raft === null) continue;
      const against = {
        limit: rig.battery.raft.minIsolationOhmPerVolt * raft.value.packV,
        unit: 'ohm',
        setting: 'battery.raft.minIsolationOhmPerVolt',
      };
      const { isolationOhm } = raft.value;
      const part = raftName(rig, index);
      findings.push(stateWatch('raft-isolation-low', w, 2, 0, isolationOhm, against, seen.nowMs, part));
    }
    return { state, findings };
  },
};
