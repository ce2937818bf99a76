/**
 * What stands behind the rectifier: ready or not; and when its frequency or voltage sinks below the minimum,
 * the ramp is held at the present current, then folded back, and given back slowly. No recovery in time trips.
 */
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type CurrentLimit, type Finding, isFresh, type Observation } from './check.js';
import { type Against, flag, state, stateWatch } from './finding.js';
import { between, underCurrent } from './phases.js';
import { ratedA } from './tolerance.js';
import { CALM, ripe, type Watch, watch } from './watch.js';

export interface SupplyState {
  readonly ready: Watch;
  readonly sagging: Watch;
  /** Bound by fold-back; Infinity while it does not bind. */
  readonly foldedA: number;
}

const INITIAL: SupplyState = { ready: CALM, sagging: CALM, foldedA: Number.POSITIVE_INFINITY };
const READY = flag(1, 'supply.ready');
/** Fold-back while below the minimum, share of the rated current per second. */
const FOLD_PER_S = 0.25;
/** Given back at this share of the ramp. */
const RETURN_SHARE = 0.5;

function isStrong(s: ReadingOf<'supply'>, rig: Rig): boolean {
  const { minFrequencyHz, minVoltageV, kind } = rig.supply;
  // Only an engine-driven set must show a frequency; a store has none to show.
  const frequencyOk =
    kind !== 'engine-set' || minFrequencyHz === undefined || s.frequencyHz >= minFrequencyHz;
  return frequencyOk && s.voltageV >= minVoltageV;
}

/** The figure that is below its minimum, the frequency before the voltage; the voltage when none is. For people. */
function weakest(s: ReadingOf<'supply'>, rig: Rig): { reading: number; against: Against } {
  const { minFrequencyHz, minVoltageV, kind } = rig.supply;
  const byFrequency =
    kind === 'engine-set' && minFrequencyHz !== undefined && !(s.frequencyHz >= minFrequencyHz);
  return byFrequency
    ? {
        reading: s.frequencyHz,
        against: { limit: minFrequencyHz, unit: 'Hz', setting: 'supply.minFrequencyHz' },
      }
    : { reading: s.voltageV, against: { limit: minVoltageV, unit: 'V', setting: 'supply.minVoltageV' } };
}

function fold(foldedA: number, strong: boolean, currentA: number, seconds: number, rig: Rig): number {
  const mostA = ratedA(rig);
  if (!strong) {
    // A current that cannot be read permits none; kept as no number it would permit none for ever.
    const heldA = Math.min(foldedA, currentA > 0 ? currentA : 0, mostA);
    return Math.max(0, heldA - FOLD_PER_S * mostA * seconds);
  }
  const backA = foldedA + RETURN_SHARE * rig.ramp.upAPerS * seconds;
  return backA >= mostA ? Number.POSITIVE_INFINITY : backA;
}

/** What the supply's rating leaves at the present output voltage, losses of the converter taken off. */
function powerBoundA(seen: Observation, rig: Rig): number {
  const outputV = seen.meter?.value.outputV ?? Number.NaN;
  const { maxPowerW } = rig.supply;
  const { noLoadLossW, lossVoltsPerA } = rig.converter;
  const boundA = (maxPowerW - noLoadLossW) / (Math.max(outputV, rig.converter.minVoltageV) + lossVoltsPerA);
  return Number.isNaN(boundA) ? 0 : boundA;
}

export const supply: Check<SupplyState> = {
  name: 'supply',
  codes: ['supply-not-ready', 'supply-derated', 'supply-sagging'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const reading = seen.supply;
    const { nowMs } = seen;
    const speaks =
      seen.phase === 'parked' || between(seen.phase, 'securing', 'ramping-down') || underCurrent(seen.phase);
    if (!speaks || reading === null) return { state: INITIAL, findings: [] };
    const isReady = reading.value.ready === 1 && reading.value.breakerClosed === 1;
    const ready = watch(before.ready, isReady, reading.isNew, nowMs);
    const loaded = underCurrent(seen.phase);
    const strong = !loaded || isStrong(reading.value, rig);
    const sagging = watch(before.sagging, strong, reading.isNew, nowMs);
    const currentA = seen.meter?.value.currentA ?? Number.NaN;
    const foldedA = loaded
      ? fold(before.foldedA, !ripe(sagging, 1), currentA, seen.stepMs / 1000, rig)
      : Number.POSITIVE_INFINITY;
    const s: SupplyState = { ready, sagging, foldedA };
    const findings: Finding[] = [
      stateWatch('supply-not-ready', ready, 2, 0, reading.value.ready, READY, nowMs),
    ];
    if (!loaded) return { state: s, findings };
    const { reading: figure, against } = weakest(reading.value, rig);
    findings.push(
      state('supply-derated', Number.isFinite(foldedA), figure, against, nowMs),
      stateWatch('supply-sagging', sagging, 2, 1000 * rig.supply.recoverS, figure, against, nowMs),
    );
    const fresh = isFresh(reading, rig.link.slowReadingMs);
    const limits: CurrentLimit[] = [
      { limit: 'supply', currentA: fresh ? Math.min(foldedA, powerBoundA(seen, rig)) : 0 },
    ];
    return { state: s, findings, limits };
  },
};
