/**
 * Cells inside their hard limits, and what the management unit itself says. Parked, every battery raft is
 * asked and a "no" refuses the start; in a session only those on the bus count.
 */
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { Code } from './catalogue.js';
import { type Check, type Finding, isFresh, type Observation } from './check.js';
import { type Against, state, stateWatch } from './finding.js';
import { perRig } from './per-rig.js';
import { inSession } from './phases.js';
import { CALM, type Watch, watch } from './watch.js';
import { isBattery, raftName } from './where.js';

interface Limit {
  readonly code: Code;
  readonly key: keyof Rig['battery']['raft'] | 'alarm';
  readonly unit: string;
  readonly reading: (v: ReadingOf<'raft'>) => number;
  readonly ok: (reading: number, limit: number) => boolean;
}

const most = (reading: number, limit: number): boolean => reading <= limit;
const least = (reading: number, limit: number): boolean => reading >= limit;

const LIMITS: readonly Limit[] = [
  { code: 'cell-too-high', key: 'maxCellV', unit: 'V', reading: (v) => v.cellMaxV, ok: most },
  { code: 'cell-too-low', key: 'minCellV', unit: 'V', reading: (v) => v.cellMinV, ok: least },
  { code: 'cell-too-hot', key: 'maxChargeC', unit: 'degC', reading: (v) => v.cellMaxC, ok: most },
  { code: 'cell-too-cold', key: 'minChargeC', unit: 'degC', reading: (v) => v.cellMinC, ok: least },
  {
    code: 'cell-spread',
    key: 'maxCellSpreadV',
    unit: 'V',
    reading: (v) => v.cellMaxV - v.cellMinV,
    ok: most,
  },
  { code: 'battery-alarm', key: 'alarm', unit: '', reading: (v) => v.alarm, ok: most },
];
/** Alarm 1 is a warning, 2 demands the end. */
const ALARM_LIMIT = 1;
const SAMPLES = 2;

export interface CellsState {
  /** By raft, then by LIMITS. */
  readonly watches: readonly (readonly Watch[])[];
}

/** What each of LIMITS is held against, by the rig. */
const heldOf = perRig((rig) =>
  LIMITS.map(({ key, unit }): Against => {
    if (key === 'alarm') return { limit: ALARM_LIMIT, unit, setting: 'raft.alarm' };
    return { limit: rig.battery.raft[key] as number, unit, setting: `battery.raft.${key}` };
  }),
);
const CALM_ROW: readonly Watch[] = LIMITS.map(() => CALM);
const NO_ALARM: Against = { limit: 0, unit: '', setting: 'raft.alarm' };

export const cells: Check<CellsState> = {
  name: 'cells',
  codes: [...LIMITS.map((limit) => limit.code), 'battery-warning', 'at-ceiling'],
  initial: (rig) => ({ watches: rig.battery.rafts.map(() => CALM_ROW) }),
  run(before, seen, rig) {
    const parked = seen.phase === 'parked';
    if (!parked && !inSession(seen.phase) && seen.phase !== 'tripped-ramping-down') {
      return { state: cells.initial(rig), findings: [] };
    }
    const held = heldOf(rig);
    const findings: Finding[] = [];
    const watches = before.watches.map((row, raft) => {
      const reading = seen.rafts[raft] ?? null;
      const counts =
        isBattery(rig, raft) &&
        isFresh(reading, rig.link.slowReadingMs) &&
        (parked || reading.value.joined === 1);
      if (!counts) return CALM_ROW;
      const part = raftName(rig, raft);
      const warns = !(reading.value.alarm === 0);
      findings.push(state('battery-warning', warns, reading.value.alarm, NO_ALARM, seen.nowMs, part));
      return LIMITS.map((limit, index) => {
        const against = held[index]!;
        const figure = limit.reading(reading.value);
        const next = watch(row[index]!, limit.ok(figure, against.limit), reading.isNew, seen.nowMs);
        findings.push(stateWatch(limit.code, next, SAMPLES, 0, figure, against, seen.nowMs, part));
        return next;
      });
    });
    if (parked) findings.push(atCeiling(seen, rig));
    return { state: { watches }, findings };
  },
};

/** Nothing left to charge: the mean of the battery is at its ceiling, or every raft has a cell there. */
function atCeiling(seen: Observation, rig: Rig): Finding {
  const battery = seen.rafts.flatMap((raft, index) =>
    raft !== null && isBattery(rig, index) ? [raft.value] : [],
  );
  const soc = battery.reduce((sum, v) => sum + v.soc, 0) / Math.max(1, battery.length);
  const room =
    battery.length === 0 ||
    (soc < rig.battery.ceilingSoc && battery.some((v) => v.cellMaxV < rig.battery.raft.ceilingCellV));
  const against = { limit: rig.battery.ceilingSoc, unit: 'share', setting: 'battery.ceilingSoc' };
  return state('at-ceiling', !room, soc, against, seen.nowMs);
}
