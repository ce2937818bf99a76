/**
 * The train's own contactors: closed when asked, and open when asked, by auxiliary and by volts. Once they
 * are open, only the cable's capacitance holds the plug: its voltage must leave the train's.
 */
import { MAKE_SAFE } from '../rig/make-safe.js';
import type { Rig } from '../rig/schema.js';
import {
  type Check,
  type Finding,
  isAfterMakeSafe,
  isFresh,
  type Observation,
  type Proof,
  type Seen,
} from './check.js';
import { state, stateWatch } from './finding.js';
import { afterTrip, inSession } from './phases.js';
import { CALM, ripe, type Watch, watch } from './watch.js';
import { reportMarginMs } from './where.js';

export interface TrainState {
  readonly ever: boolean;
  readonly wasClosed: boolean;
  readonly closedSamples: number;
  readonly openSamples: number;
  /** Samples in a row with the plug below the train's voltage. */
  readonly parted: number;
  readonly proven: boolean;
  readonly notClosed: Watch;
  readonly stuckAux: Watch;
  readonly hangsOn: Watch;
}

const INITIAL: TrainState = {
  ever: false,
  wasClosed: false,
  closedSamples: 0,
  openSamples: 0,
  parted: 0,
  proven: false,
  notClosed: CALM,
  stuckAux: CALM,
  hangsOn: CALM,
};

const SAMPLES = 2;
/** The device asks the train open this long after make-safe, at the latest (DEVELOPERS.md, Decisions). */
const MAKE_SAFE_MS = MAKE_SAFE.openPLatestMs + MAKE_SAFE.openNAfterPMs + MAKE_SAFE.openTrainAfterNMs;

/** Auxiliaries of the train contactors: 1 both closed, 0 both open, NaN otherwise. */
function auxiliaries({ value }: Seen<'train'>): number {
  if (value.closedP === 1 && value.closedN === 1) return 1;
  return value.closedP === 0 && value.closedN === 0 ? 0 : Number.NaN;
}

/** ms since the train was asked to open; negative: make-safe has not come to it yet, NaN: not asked. */
function askedOpenMs(seen: Observation, ever: boolean): number {
  const { ordered } = seen;
  const makeSafe = ordered.sinceMs.makeSafe;
  if (Number.isFinite(makeSafe)) return makeSafe - MAKE_SAFE_MS;
  return ever && !ordered.trainClosed ? ordered.sinceMs.train : Number.NaN;
}

/** How far the plug must stand below the train: clear of both voltmeters, and of their scale. */
const partingV = (rig: Rig, trainV: number): number =>
  Math.max(2 * rig.plausibility.voltageV, 0.015 * Math.abs(trainV));

/** Time the plug's own leakage takes to show an open contactor, ms, with plenty of room. */
function showsWithinMs(rig: Rig): number {
  const { meterOhm, network } = rig.isolation;
  const poleOhm = 1 / (1 / network.cableOhm + 1 / meterOhm);
  const acrossOhm = 1 / (1 / meterOhm + 1 / (2 * poleOhm));
  return 0.2 * 1000 * acrossOhm * rig.connection.cable.capacitanceF + rig.link.slowReadingMs;
}

export const trainContactors: Check<TrainState> = {
  name: 'train-contactors',
  codes: ['train-contactor-not-closed', 'train-contactor-welded'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const train = seen.train;
    const speaks = inSession(seen.phase) || afterTrip(seen.phase) || seen.phase === 'tripped-ramping-down';
    if (!speaks || train === null) return { state: INITIAL, findings: [] };
    const { ordered, nowMs } = seen;
    const ever = before.ever || ordered.trainClosed;
    const aux = auxiliaries(train);
    const asked = askedOpenMs(seen, ever);
    const isAskedOpen = asked >= 0;
    const closeLateMs = rig.contactors.closeMs + reportMarginMs(rig);
    const openLateMs = rig.contactors.openMs + reportMarginMs(rig);
    const wasClosed = ordered.trainClosed && (before.wasClosed || (train.isNew && aux === 1));
    const isNew = train.isNew;
    // Ordered closed, everything about parting starts anew.
    const anew = ordered.trainClosed && Number.isNaN(asked);
    const mustBeClosed = anew && (wasClosed || ordered.sinceMs.train > closeLateMs);
    const s0: TrainState = {
      ever,
      wasClosed,
      closedSamples: isNew ? (aux === 1 ? before.closedSamples + 1 : 0) : before.closedSamples,
      openSamples: isNew ? (aux === 0 ? before.openSamples + 1 : 0) : before.openSamples,
      parted: anew ? 0 : before.parted,
      proven: anew ? false : before.proven,
      notClosed: watch(before.notClosed, !mustBeClosed || aux === 1, train.isNew, nowMs),
      stuckAux: watch(before.stuckAux, !(ever && asked > openLateMs) || aux === 0, train.isNew, nowMs),
      hangsOn: anew ? CALM : before.hangsOn,
    };
    const plugV = Math.abs(seen.meter?.value.plugV ?? Number.NaN);
    const trainV = Math.abs(train.value.trainV);
    const s = seen.meter?.isNew && isAskedOpen ? followPlug(s0, asked, aux, plugV, trainV, nowMs, rig) : s0;
    return {
      state: s,
      findings: statements(s, train, plugV, seen, rig),
      proofs: standing(s, aux, train, seen, rig),
    };
  },
};

function followPlug(
  s: TrainState,
  askedMs: number,
  aux: number,
  plugV: number,
  trainV: number,
  nowMs: number,
  rig: Rig,
): TrainState {
  const isParted = trainV - plugV >= partingV(rig, trainV);
  // A dead train bus lends the plug no voltage: nothing can be told by volts, and nothing needs to.
  const isHarmless = trainV <= rig.bleeder.safeV && plugV <= rig.bleeder.safeV;
  const parted = aux === 0 && (isParted || isHarmless) ? s.parted + 1 : 0;
  const due = askedMs > showsWithinMs(rig);
  return {
    ...s,
    parted,
    proven: s.proven || parted >= SAMPLES,
    hangsOn: watch(s.hangsOn, !due || isParted || isHarmless, true, nowMs),
  };
}

function statements(
  s: TrainState,
  train: Seen<'train'>,
  plugV: number,
  seen: Observation,
  rig: Rig,
): Finding[] {
  const { nowMs } = seen;
  const { closedP, closedN } = train.value;
  const closed = { limit: 1, unit: '', setting: 'contactors.closeMs' };
  const findings: Finding[] = [];
  if (seen.ordered.trainClosed && !afterTrip(seen.phase)) {
    const notClosed = stateWatch(
      'train-contactor-not-closed',
      s.notClosed,
      SAMPLES,
      0,
      Math.min(closedP, closedN),
      closed,
      nowMs,
    );
    findings.push(notClosed);
  }
  if (s.ever) {
    const byAux = ripe(s.stuckAux, SAMPLES);
    const byVolts = ripe(s.hangsOn, SAMPLES);
    const part = closedP === 1 && closedN !== 1 ? 'P' : closedN === 1 && closedP !== 1 ? 'N' : 'both';
    const sinceMs = byAux ? s.stuckAux.sinceMs : byVolts ? s.hangsOn.sinceMs : nowMs;
    const against = { limit: rig.bleeder.safeV, unit: 'V', setting: 'bleeder.safeV' };
    findings.push(state('train-contactor-welded', byAux || byVolts, plugV, against, sinceMs, part));
  }
  return findings;
}

/**
 * The plug hangs on a live train by one pole. Volts from pole to pole leave the train's when the other pole alone
 * opens, and one auxiliary may lie. Bleeding then pulls plug and train together towards chassis, after a trip by the
 * known resistor too: it reads as dead for as long as they are on. But the train's leakage flows through
 * both and holds the plug off chassis (690 V over 5 MΩ and 155 kΩ: 20 V); an open plug goes to nothing.
 */
function hangsByOne(train: Seen<'train'>, seen: Observation, rig: Rig): boolean {
  const isBled = afterTrip(seen.phase) || seen.phase === 'bleeding';
  if (!isBled || Math.abs(train.value.trainV) <= rig.bleeder.safeV) return false;
  const m = seen.meter?.value;
  if (m === undefined) return true;
  const chassisV = Math.max(Math.abs(m.plugPositiveV), Math.abs(m.plugNegativeV));
  return !(chassisV <= rig.plausibility.voltageV);
}

function standing(
  s: TrainState,
  aux: number,
  train: Seen<'train'>,
  seen: Observation,
  rig: Rig,
): readonly Proof[] {
  if (!isFresh(train, rig.link.slowReadingMs)) return [];
  if (s.wasClosed && aux === 1 && s.closedSamples >= SAMPLES) return ['train-closed'];
  const isOpen = aux === 0 && s.openSamples >= SAMPLES;
  // Never asked closed: its auxiliaries at rest are the proof, as for the charger's poles. Proven open and yet back
  // on the train's volts: nothing is open while that is so.
  const opened = s.ever ? s.proven && !ripe(s.hangsOn, SAMPLES) && !hangsByOne(train, seen, rig) : true;
  return isOpen && opened && isAfterMakeSafe(train, seen) ? ['train-open'] : [];
}
