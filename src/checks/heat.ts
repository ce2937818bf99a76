/**
 * Heat in the cable and in the contacts: derate first, trip when that is not enough.
 *
 * The conductor is taken at the higher of its sensor and a first-order estimate from the current, so that a
 * sensor that has come loose from the conductor does not hide its heat. The contact has its sensor here; its
 * voltage drop, which needs none, is watched in contact-drop.ts.
 */
import { cableLoopOhm } from '../rig/ratings.js';
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type CurrentLimit, type Finding, isFresh, type Observation } from './check.js';
import { state, stateWatch } from './finding.js';
import { between, underCurrent } from './phases.js';
import { CALM, type Watch, watch } from './watch.js';

export interface HeatState {
  /** What the conductor stood at before any current, and the estimate since; NaN before the first sample. */
  readonly startC: number;
  readonly estimateC: number;
  readonly cable: Watch;
  readonly contact: Watch;
}

const INITIAL: HeatState = { startC: Number.NaN, estimateC: Number.NaN, cable: CALM, contact: CALM };
const SAMPLES = 3;
/** The estimate knows nothing of wind and sun: it may be this much too cool before it counts as hot. */
const MODEL_MARGIN_K = 5;

/**
 * Share of the rated current left at a temperature: all up to `fromC`, nothing at `maxC`. Heat goes with the
 * square of the current, so its root makes the heat, not the current, fall in a straight line.
 */
export function heatShare(temperatureC: number, fromC: number, maxC: number): number {
  const left = (maxC - temperatureC) / (maxC - fromC);
  return Number.isNaN(left) ? 0 : Math.sqrt(Math.min(1, Math.max(0, left)));
}

/** One step of the conductor towards where this current would bring it. */
export function warmCable(
  rig: Rig,
  fromC: number,
  ambientC: number,
  currentA: number,
  seconds: number,
): number {
  const { thermalResistanceKPerW, thermalTimeConstantS } = rig.connection.cable;
  const heatW = currentA * currentA * cableLoopOhm(rig.connection.cable, fromC);
  const settledC = ambientC + heatW * thermalResistanceKPerW;
  return settledC + (fromC - settledC) * Math.exp(-seconds / thermalTimeConstantS);
}

function estimate(before: HeatState, m: ReadingOf<'meter'>, seen: Observation, rig: Rig): HeatState {
  if (Number.isNaN(before.startC)) {
    const startC = Number.isFinite(m.cableC) ? m.cableC : rig.connection.cable.ambientC;
    return { startC, estimateC: startC, cable: before.cable, contact: before.contact };
  }
  const currentA = underCurrent(seen.phase) ? m.currentA : 0;
  if (!Number.isFinite(currentA)) return before;
  const estimateC = warmCable(rig, before.estimateC, before.startC, currentA, seen.stepMs / 1000);
  return { startC: before.startC, estimateC, cable: before.cable, contact: before.contact };
}

export const heat: Check<HeatState> = {
  name: 'heat',
  codes: ['cable-derated', 'cable-hot', 'contact-derated', 'contact-hot'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { meter, nowMs } = seen;
    const speaks = between(seen.phase, 'securing', 'bleeding') || seen.phase === 'tripped-ramping-down';
    if (!speaks || meter === null) return { state: INITIAL, findings: [] };
    const warmed = estimate(before, meter.value, seen, rig);
    if (!isFresh(meter, rig.link.fastReadingMs)) return { state: warmed, findings: [] };
    const { cable, contact, ratedCurrentA } = rig.connection;
    const { cableC, contactC } = meter.value;
    // An unreadable sensor stays NaN and fails: the estimate alone is not trusted to stand for it.
    const hottestC = Number.isNaN(cableC) ? cableC : Math.max(cableC, warmed.estimateC - MODEL_MARGIN_K);
    const s: HeatState = {
      startC: warmed.startC,
      estimateC: warmed.estimateC,
      cable: watch(before.cable, hottestC <= cable.maxConductorC, meter.isNew, nowMs),
      contact: watch(before.contact, contactC <= contact.maxC, meter.isNew, nowMs),
    };
    const say = (temperatureC: number, limit: number, key: string) =>
      [temperatureC, { limit, unit: 'degC', setting: `connection.${key}` }] as const;
    const findings: Finding[] = [];
    const cableDerates = !(hottestC <= cable.derateFromC);
    findings.push(
      state('cable-derated', cableDerates, ...say(hottestC, cable.derateFromC, 'cable.derateFromC'), nowMs),
      stateWatch(
        'cable-hot',
        s.cable,
        SAMPLES,
        0,
        ...say(hottestC, cable.maxConductorC, 'cable.maxConductorC'),
        nowMs,
      ),
    );
    const contactDerates = !(contactC <= contact.derateFromC);
    findings.push(
      state(
        'contact-derated',
        contactDerates,
        ...say(contactC, contact.derateFromC, 'contact.derateFromC'),
        nowMs,
      ),
      stateWatch('contact-hot', s.contact, SAMPLES, 0, ...say(contactC, contact.maxC, 'contact.maxC'), nowMs),
    );
    const limits: CurrentLimit[] = [
      {
        limit: 'cable',
        currentA: ratedCurrentA * heatShare(hottestC, cable.derateFromC, cable.maxConductorC),
      },
      { limit: 'contact', currentA: ratedCurrentA * heatShare(contactC, contact.derateFromC, contact.maxC) },
    ];
    return { state: s, findings, limits };
  },
};
