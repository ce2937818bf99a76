/**
 * Converter side and plug side dead: below the safe voltage pole to pole and each pole to chassis, by a
 * voltmeter that followed the decay (decay.ts), within the time the rig gives.
 */
import { MAKE_SAFE } from '../rig/make-safe.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isAfterMakeSafe, isFresh, type Observation, type Proof } from './check.js';
import { followSide, isDead, type SideSample, type SideState, UNSEEN, unproven } from './decay.js';
import { type Against, state } from './finding.js';
import { perRig } from './per-rig.js';
import { reportMarginMs, sampleMs } from './where.js';

type Side = 'output' | 'plug';

export interface BleedState {
  readonly side: SideState;
  /** Session ms at which this side began to be bled, and what it stood at; NaN while it is not. */
  readonly bledMs: number;
  readonly fromV: number;
  /** Was not dead in time: the bleeder cannot be relied on to keep it dead either. */
  readonly late: boolean;
  readonly lateMs: number;
  readonly abortedMs: number;
  readonly unprovenMs: number;
}
export interface ResidualState {
  readonly output: BleedState;
  readonly plug: BleedState;
  /** Both train contactors closed in the newest sample of the train. */
  readonly trainClosed: boolean;
}

const NOT_BLED: BleedState = {
  side: UNSEEN,
  bledMs: Number.NaN,
  fromV: Number.NaN,
  late: false,
  lateMs: Number.NaN,
  abortedMs: Number.NaN,
  unprovenMs: Number.NaN,
};

/** From P ordered open to each bleeder, in the device's own sequence after make-safe. */
const AFTER_P_MS = {
  output: MAKE_SAFE.bleedOutputAfterPMs,
  plug: MAKE_SAFE.openNAfterPMs + MAKE_SAFE.openTrainAfterNMs + MAKE_SAFE.bleedPlugAfterTrainMs,
} as const;
/** The plug is dead after two or three time constants; this many without it, and its bleeder is dead. */
const PLUG_TAUS = 8;
const PLUG_LEAST_MS = 500;
/** `converter.state`: delivering. */
const DELIVERING = 2;

const tauMs = (rig: Rig, side: Side): number =>
  side === 'output'
    ? 1000 * rig.bleeder.outputOhm * rig.converter.capacitanceF
    : 1000 * rig.bleeder.plugOhm * rig.connection.cable.capacitanceF;

/** From the bleeder going on to dead, ms. */
export function allowedMs(rig: Rig, side: Side): number {
  const limitMs = 1000 * rig.bleeder.deadWithinS;
  const curveMs = Math.max(PLUG_TAUS * tauMs(rig, 'plug'), PLUG_LEAST_MS);
  return (side === 'output' ? limitMs : Math.min(limitMs, curveMs)) + reportMarginMs(rig);
}

function sampleOf(seen: Observation, rig: Rig, side: Side, trainWasClosed: boolean): SideSample | null {
  const m = seen.meter?.value;
  if (m === undefined) return null;
  const isOutput = side === 'output';
  const volts = isOutput ? m.outputV : m.plugV;
  const low = isOutput ? m.outputMinV : m.plugMinV;
  const high = isOutput ? m.outputMaxV : m.plugMaxV;
  const p = isOutput ? m.outputPositiveV : m.plugPositiveV;
  const n = isOutput ? m.outputNegativeV : m.plugNegativeV;
  const on = isOutput ? seen.bleeder?.value.outputOn : seen.bleeder?.value.plugOn;
  return {
    volts: Math.abs(volts),
    // Extremes of one sign; a side that passes through zero has been at zero.
    leastV: low * high < 0 ? 0 : Math.min(Math.abs(low), Math.abs(high)),
    mostV: Math.max(Math.abs(low), Math.abs(high)),
    chassisV: Math.max(Math.abs(p), Math.abs(n)),
    otherV: isOutput ? converterV(seen, rig) : trainSideV(seen, rig, trainWasClosed),
    bleeding: on === 1 || mayBleed(seen, side),
    tMs: sampleMs(seen, rig, 'meter'),
  };
}

/** The converter sees its own output. */
function converterV(seen: Observation, rig: Rig): number {
  return isFresh(seen.converter, rig.link.fastReadingMs)
    ? Math.abs(seen.converter.value.outputV)
    : Number.NaN;
}

/**
 * The converter says itself that it delivers: then the bleeder holds its output down, and it is live again as soon
 * as the bleeder lets go. Silent or unreadable it says nothing: its output must be provable by the meter alone.
 */
function converterFeeds(seen: Observation, rig: Rig): boolean {
  if (!isFresh(seen.converter, rig.link.fastReadingMs)) return false;
  const { state: delivers, outputA } = seen.converter.value;
  return delivers === DELIVERING || Math.abs(outputA) > rig.plausibility.currentFloorA;
}

/**
 * With its contactors closed the train's bus is the plug side. So it was between two samples of which the first still
 * saw them closed: a raft that joins as they part leaves the plug live, and a dead voltmeter sees nothing of it.
 */
function trainSideV(seen: Observation, rig: Rig, wasClosed: boolean): number {
  const { train } = seen;
  if (!isFresh(train, rig.link.fastReadingMs)) return Number.NaN;
  return wasClosed || isTrainClosed(seen) ? Math.abs(train.value.trainV) : Number.NaN;
}

const isTrainClosed = ({ train }: Observation): boolean =>
  train?.value.closedP === 1 && train.value.closedN === 1;

/** Ordered, or so long after make-safe that the device's own sequence has come to it. */
function bleeds(seen: Observation, side: Side, afterMakeSafeMs: number): boolean {
  const ordered = side === 'output' ? seen.ordered.bleedOutput : seen.ordered.bleedPlug;
  const makeSafe = seen.ordered.sinceMs.makeSafe;
  return ordered || (Number.isFinite(makeSafe) && makeSafe >= afterMakeSafeMs);
}

/** The bleeder may be on before its port has said so: the meter may sit on another port. */
const mayBleed = (seen: Observation, side: Side): boolean => bleeds(seen, side, AFTER_P_MS[side]);

/** True while this side ought to be bled: the device opens P at the latest after its time. */
const oughtToBleed = (seen: Observation, side: Side): boolean =>
  bleeds(seen, side, MAKE_SAFE.openPLatestMs + AFTER_P_MS[side]);

function stepSide(state: ResidualState, side: Side, seen: Observation, rig: Rig): BleedState {
  const before = state[side];
  const isNew = seen.meter?.isNew === true;
  const sample = isNew ? sampleOf(seen, rig, side, state.trainClosed) : null;
  const followed = sample === null ? before.side : followSide(before.side, sample, rule(rig)[side]);
  const { late, lateMs, abortedMs, unprovenMs } = before;
  if (!oughtToBleed(seen, side)) {
    const bledMs = Number.NaN;
    return { side: followed, bledMs, fromV: Number.NaN, late, lateMs, abortedMs, unprovenMs };
  }
  const begins = Number.isNaN(before.bledMs);
  const bledMs = begins ? seen.nowMs : before.bledMs;
  const fromV = begins ? followed.volts : before.fromV;
  if (!isNew) return { side: followed, bledMs, fromV, late, lateMs, abortedMs, unprovenMs };
  const onMs = seen.nowMs - bledMs;
  const isSafe = followed.below > 0;
  const isLateNow = !isSafe && !(onMs <= allowedMs(rig, side)) && !late;
  const isFedNow = isFed(followed.volts, fromV, side, onMs, seen, rig);
  return {
    side: followed,
    bledMs,
    fromV,
    late: late || isLateNow,
    lateMs: isLateNow ? seen.nowMs : lateMs,
    abortedMs: isFedNow ? firstOf(abortedMs, seen.nowMs) : Number.NaN,
    unprovenMs: unproven(followed) ? firstOf(unprovenMs, seen.nowMs) : Number.NaN,
  };
}

const rule = perRig((rig) => {
  const of = (side: Side) => ({
    safeV: rig.bleeder.safeV,
    tauMs: tauMs(rig, side),
    stepMs: rig.link.periodMs,
  });
  return { output: of('output'), plug: of('plug') };
});
const firstOf = (beforeMs: number, nowMs: number): number => (Number.isNaN(beforeMs) ? nowMs : beforeMs);

/** The bleeder is on and the volts hold: something feeds the side, and the bleeder must not stay on. */
function isFed(volts: number, fromV: number, side: Side, onMs: number, seen: Observation, rig: Rig): boolean {
  if (!(volts > rig.bleeder.safeV)) return false;
  if (side === 'output') {
    const dueMs = tauMs(rig, 'output') + rig.contactors.openMs + reportMarginMs(rig);
    // After one time constant barely a third may be left.
    return onMs >= dueMs && volts >= 0.85 * fromV;
  }
  const trainV = Math.abs(seen.train?.value.trainV ?? Number.NaN);
  const dueMs = 10 * tauMs(rig, 'plug') + reportMarginMs(rig);
  return onMs >= dueMs && volts >= 0.95 * fromV && Math.abs(volts - trainV) <= rig.plausibility.voltageV;
}

function statements(s: BleedState, side: Side, seen: Observation, rig: Rig): Finding[] {
  const { safeV } = rig.bleeder;
  const volts: Against = { limit: safeV, unit: 'V', setting: 'bleeder.safeV' };
  const at = (ms: number): number => (Number.isNaN(ms) ? seen.nowMs : ms);
  const reading = s.side.volts;
  return [
    state(side === 'output' ? 'output-not-dead' : 'plug-not-dead', s.late, reading, volts, at(s.lateMs)),
    state('voltmeter-unproven', !Number.isNaN(s.unprovenMs), reading, volts, at(s.unprovenMs), side),
    state('bleeder-aborted', !Number.isNaN(s.abortedMs), reading, volts, at(s.abortedMs), side),
  ];
}

/** The isolation device, where it sits on the plug side, is a second voltmeter: it must not say otherwise. */
function secondSaysLive(seen: Observation, rig: Rig): boolean {
  const isolation = seen.isolation?.value;
  if (isolation === undefined || isolation.point < 2) return false;
  return !(Math.abs(isolation.positiveV - isolation.negativeV) <= rig.bleeder.safeV);
}

export const residual: Check<ResidualState> = {
  name: 'residual',
  codes: ['output-not-dead', 'plug-not-dead', 'voltmeter-unproven', 'bleeder-aborted'],
  initial: () => ({ output: NOT_BLED, plug: NOT_BLED, trainClosed: false }),
  run(before, seen, rig) {
    const output = stepSide(before, 'output', seen, rig);
    const plug = stepSide(before, 'plug', seen, rig);
    const findings: Finding[] = [];
    if (oughtToBleed(seen, 'output')) findings.push(...statements(output, 'output', seen, rig));
    if (oughtToBleed(seen, 'plug')) findings.push(...statements(plug, 'plug', seen, rig));
    const fresh = isFresh(seen.meter, rig.link.fastReadingMs) && isAfterMakeSafe(seen.meter, seen);
    const proofs: Proof[] = [];
    if (fresh && isDead(output.side) && !output.late && !converterFeeds(seen, rig))
      proofs.push('output-dead');
    if (fresh && isDead(plug.side) && !plug.late && !secondSaysLive(seen, rig)) proofs.push('plug-dead');
    const trainClosed = seen.train?.isNew === true ? isTrainClosed(seen) : before.trainClosed;
    return { state: { output, plug, trainClosed }, findings, proofs };
  },
};
