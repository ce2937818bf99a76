/**
 * Instruments that must agree: meter and converter on the current, meter and the sum of the rafts, and the
 * voltmeters round the circuit. Slow readings are held against everything the fast ones showed meanwhile.
 */
import { cableLoopOhm } from '../rig/ratings.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isFresh, type Observation } from './check.js';
import { stateWatch } from './finding.js';
import { underCurrent } from './phases.js';
import { recentWith } from './recent.js';
import { plausibleA } from './tolerance.js';
import { CALM, type Watch, watch } from './watch.js';

interface Span {
  readonly tMs: number;
  readonly currentA: number;
  readonly plugV: number;
}
export interface PlausibilityState {
  readonly meter: Watch;
  readonly rafts: Watch;
  readonly output: Watch;
  readonly poles: Watch;
  readonly train: Watch;
  /** Fast samples of the time a slow reading may be old. */
  readonly recent: readonly Span[];
}

const INITIAL: PlausibilityState = {
  meter: CALM,
  rafts: CALM,
  output: CALM,
  poles: CALM,
  train: CALM,
  recent: [],
};
const MAX_RECENT = 128;
const SAMPLES = 2;
/** A conductor as warm as it may get: the drop between charger and train is at most this. */
const HOT_C = 90;

/**
 * Distance of a value from the span of recent ones that could be read; 0 inside, Infinity when there is none. One
 * that could not be read failed when it came, in the other figures: kept here it would fail for the whole span.
 */
function outside(value: number, recent: readonly Span[], key: 'currentA' | 'plugV'): number {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const each of recent) {
    if (Number.isNaN(each[key])) continue;
    least = Math.min(least, each[key]);
    most = Math.max(most, each[key]);
  }
  return Math.max(0, least - value, value - most);
}

/** Most volts that may be lost between plug voltmeter and train bus at this current. */
const lineV = (rig: Rig, currentA: number): number =>
  rig.plausibility.voltageV +
  Math.abs(currentA) * cableLoopOhm(rig.connection.cable, HOT_C) +
  2 * rig.connection.contact.maxDropV;

export const plausibility: Check<PlausibilityState> = {
  name: 'plausibility',
  codes: ['meter-disagrees', 'rafts-disagree', 'volts-disagree'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { meter, converter } = seen;
    if (!underCurrent(seen.phase) || meter === null || converter === null) {
      return { state: INITIAL, findings: [] };
    }
    const { fastReadingMs, slowReadingMs } = rig.link;
    // A standing reading disagrees with everything; what it is, is stale, and that is said elsewhere.
    if (!isFresh(meter, fastReadingMs) || !isFresh(converter, fastReadingMs)) {
      return { state: before, findings: [] };
    }
    const m = meter.value;
    const recent = meter.isNew
      ? recentWith(
          before.recent,
          { tMs: seen.nowMs, currentA: m.currentA, plugV: m.plugV },
          slowReadingMs,
          MAX_RECENT,
        )
      : before.recent;
    const figures = figuresOf(seen, recent, rig);
    const step = (w: Watch, key: keyof typeof figures): Watch =>
      watch(w, figures[key].apart <= figures[key].limit, figures[key].isNew, seen.nowMs);
    const state: PlausibilityState = {
      meter: step(before.meter, 'meter'),
      rafts: step(before.rafts, 'rafts'),
      output: step(before.output, 'output'),
      poles: step(before.poles, 'poles'),
      train: step(before.train, 'train'),
      recent,
    };
    const { debounceMs } = rig.plausibility;
    const volts = 'plausibility.voltageV';
    const amps = 'plausibility.currentPercent';
    const say = (
      code: Finding['code'],
      key: keyof typeof figures,
      unit: string,
      setting: string,
      forMs: number,
      part?: string,
    ) =>
      stateWatch(
        code,
        state[key],
        SAMPLES,
        forMs,
        figures[key].apart,
        { limit: figures[key].limit, unit, setting },
        seen.nowMs,
        part,
      );
    return {
      state,
      findings: [
        say('meter-disagrees', 'meter', 'A', amps, debounceMs),
        // Rafts join, part and report in their own time: they are given theirs.
        say('rafts-disagree', 'rafts', 'A', amps, Math.max(debounceMs, slowReadingMs)),
        say('volts-disagree', 'output', 'V', volts, debounceMs, 'meter and converter'),
        say('volts-disagree', 'poles', 'V', volts, debounceMs, 'output and plug'),
        say('volts-disagree', 'train', 'V', volts, debounceMs, 'plug and train'),
      ],
    };
  },
};

interface Figure {
  readonly apart: number;
  readonly limit: number;
  readonly isNew: boolean;
}

function figuresOf(seen: Observation, recent: readonly Span[], rig: Rig) {
  const m = seen.meter!.value;
  const c = seen.converter!.value;
  const isNew = seen.meter!.isNew;
  const joined = seen.joined;
  const sumA = joined.reduce((sum, raft) => sum + (seen.rafts[raft]?.value.packA ?? Number.NaN), 0);
  const trainV = seen.train?.value.trainV ?? Number.NaN;
  const { voltageV } = rig.plausibility;
  // Each raft answers for its own current: their tolerances add up.
  const raftsA = plausibleA(rig, m.currentA) + rig.plausibility.currentFloorA * joined.length * 0.5;
  const figures: Record<'meter' | 'rafts' | 'output' | 'poles' | 'train', Figure> = {
    meter: { apart: Math.abs(m.currentA - c.outputA), limit: plausibleA(rig, m.currentA), isNew },
    rafts: {
      apart: outside(sumA, recent, 'currentA'),
      limit: raftsA,
      isNew,
    },
    output: { apart: Math.abs(m.outputV - c.outputV), limit: voltageV, isNew },
    poles: {
      apart: Math.abs(m.outputV - m.plugV),
      limit: voltageV + rig.contactors.closedDropV,
      isNew,
    },
    train: {
      apart: outside(trainV, recent, 'plugV'),
      limit: lineV(rig, m.currentA),
      isNew,
    },
  };
  return figures;
}
