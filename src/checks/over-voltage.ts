/** Voltage above what converter and battery bear, and the jump of a lost load. */
import type { Rig } from '../rig/schema.js';
import type { Check } from './check.js';
import { stateWatch } from './finding.js';
import { between, underCurrent } from './phases.js';
import { CALM, type Watch, watch } from './watch.js';

export interface OverVoltageState {
  readonly over: Watch;
  readonly dump: Watch;
  /** Output voltage of the last sample while current flowed; NaN when none did. */
  readonly underLoadV: number;
  readonly dumpLimitV: number;
}

const INITIAL: OverVoltageState = { over: CALM, dump: CALM, underLoadV: Number.NaN, dumpLimitV: Number.NaN };

/** The output may rise to this when its load falls away (IEC 61851-23 analogy, from memory, unverified). */
const DUMP_SHARE = 1.1;

/** Converter and pack, whichever is lower, plus what the voltmeter may be off. */
export const mostV = (rig: Rig): number =>
  Math.min(rig.converter.maxVoltageV, rig.battery.raft.seriesCells * rig.battery.raft.maxCellV) +
  rig.plausibility.voltageV;

export const overVoltage: Check<OverVoltageState> = {
  name: 'over-voltage',
  codes: ['over-voltage', 'load-dump'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { meter, nowMs } = seen;
    const speaks = between(seen.phase, 'joining-train', 'bleeding') || underCurrent(seen.phase);
    if (!speaks || meter === null) return { state: INITIAL, findings: [] };
    const m = meter.value;
    // The peak when it can be read; without it the instant must do, and without both it fails.
    const peakV = Math.max(m.outputV, m.outputMaxV, m.plugV, m.plugMaxV);
    const against = { limit: mostV(rig), unit: 'V', setting: 'converter.maxVoltageV' };
    const over = watch(before.over, peakV <= mostV(rig), meter.isNew, nowMs);
    const loaded = underCurrent(seen.phase) && m.currentA > rig.contactors.routineBreakA;
    // Held against the voltage before the fall of the load, which lies before this sample.
    const referenceV = Number.isNaN(before.dumpLimitV) ? DUMP_SHARE * before.underLoadV : before.dumpLimitV;
    const dumps = underCurrent(seen.phase) && Number.isFinite(referenceV) && !(m.outputMaxV <= referenceV);
    const dump = watch(before.dump, !dumps, meter.isNew, nowMs);
    // A voltage that cannot be read must not take away the one the next rise is held against.
    const tells = meter.isNew && loaded && !dumps && Number.isFinite(m.outputV);
    const state: OverVoltageState = {
      over,
      dump,
      underLoadV: tells ? m.outputV : before.underLoadV,
      dumpLimitV: meter.isNew ? (dumps ? referenceV : Number.NaN) : before.dumpLimitV,
    };
    const dumpAgainst = { limit: referenceV, unit: 'V', setting: 'converter.capacitanceF' };
    return {
      state,
      findings: [
        stateWatch('over-voltage', over, 2, 0, peakV, against, nowMs),
        // One report is enough: its peak was measured, and the next may already be past it.
        stateWatch('load-dump', dump, 1, 0, m.outputMaxV, dumpAgainst, nowMs),
      ],
    };
  },
};
