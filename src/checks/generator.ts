/**
 * A generator raft must stand still while the train is charged: two sources on one bus fight each other. One that
 * does not say so any more, or never did, while its port talks, is taken for running.
 */
import { type Check, type Finding, isFresh } from './check.js';
import { flag, stateWatch } from './finding.js';
import { inSession } from './phases.js';
import { isSilent } from './rafts.js';
import { CALM, type Watch, watch } from './watch.js';
import { isBattery, raftName } from './where.js';

const STILL = flag(0, 'raft.generatorRunning');

export const generator: Check<readonly Watch[]> = {
  name: 'generator',
  codes: ['generator-running'],
  initial: (rig) => rig.battery.rafts.map(() => CALM),
  run(before, seen, rig) {
    const speaks = seen.phase === 'parked' || inSession(seen.phase) || seen.phase === 'tripped-ramping-down';
    if (!speaks) return { state: before.map(() => CALM), findings: [] };
    const state = before.map((w, raft) => {
      if (isBattery(rig, raft)) return CALM;
      const reading = seen.rafts[raft] ?? null;
      if (isSilent(seen, raft, rig)) return watch(w, false, true, seen.nowMs);
      // A port that is quiet as a whole has a name of its own.
      if (!isFresh(reading, rig.link.slowReadingMs)) return CALM;
      return watch(w, reading.value.generatorRunning === 0, reading.isNew, seen.nowMs);
    });
    const findings: Finding[] = [];
    state.forEach((w, raft) => {
      if (isBattery(rig, raft)) return;
      const reading = seen.rafts[raft] ?? null;
      const running = isFresh(reading, rig.link.slowReadingMs) ? reading.value.generatorRunning : Number.NaN;
      const part = raftName(rig, raft);
      findings.push(stateWatch('generator-running', w, 2, 0, running, STILL, seen.nowMs, part));
    });
    return { state, findings };
  },
};
