/**
 * Isolation of the joined, live network by the known resistor: on the positive pole, on the negative pole,
 * off again; both leakages solved from the two settled pairs. Repeated while live, at once when the balance
 * of the poles shifts, and on request (the hold point wants one of its own).
 */
import { ISOLATION_POINT, ISOLATION_RESISTOR } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type CheckResult, type Finding, isFresh, type Observation } from './check.js';
import { state } from './finding.js';
import { isolationLimit } from './isolation-dead.js';
import { type Leakage, solveTwoPositions, solveUnfavourably } from './known-resistor.js';
import { between } from './phases.js';
import { addPair, type PolePair, type Settling, settledPair, settlingMs } from './settle.js';
import { sampleMs } from './where.js';

export interface Result {
  readonly startedMs: number;
  readonly doneMs: number;
  readonly leakage: Leakage;
  /** Lower pole or parallel, as the rig says, the unfavourable way. */
  readonly figureOhm: number;
  readonly storedJ: number;
}

export interface LiveState {
  readonly step: 'idle' | 'positive' | 'negative';
  /** Asked from outside: begin as soon as nothing is under way. */
  readonly wanted: boolean;
  readonly startedMs: number;
  readonly window: Settling;
  /** Device clock at which the present position was first confirmed. */
  readonly switchedMs: number;
  readonly onPositive: PolePair | null;
  readonly last: Result | null;
  /** What the network consists of; a change voids a measurement under way. */
  readonly network: string;
  readonly networkSinceMs: number;
  /** Share of the positive pole in the voltage, slow, with no resistor connected; NaN before the first. */
  readonly balance: number;
  readonly shifted: number;
}

const INITIAL: LiveState = {
  step: 'idle',
  wanted: false,
  startedMs: Number.NaN,
  window: [],
  switchedMs: Number.NaN,
  onPositive: null,
  last: null,
  network: '',
  networkSinceMs: 0,
  balance: Number.NaN,
  shifted: 0,
};

/** A network that has just changed is still swinging. */
const QUIET_MS = 300;
/** A shift of the balance by this much is worth a measurement at once. */
const SHIFT = 0.05;
/** Ratios of pole voltages are good to this share. */
const READING_SHARE = 0.004;
/** And to this of the smaller reading: half a step of 12 bits over ±1000 V. */
const READING_FLOOR_V = 0.25;

function settleRule(rig: Rig) {
  const { knownOhm, network } = rig.isolation;
  const leastMs = 5000 * knownOhm * 2 * (network.chargerF + network.cableF + network.trainF);
  return { leastMs: Math.max(leastMs, 150), spanMs: 160, samples: 4, share: 0.005, floorV: 0.8 };
}

/** Which poles and rafts make up the network now. */
function networkNow(seen: Observation): string {
  const aux = seen.contactor?.value;
  const train = seen.train?.value;
  return `${aux?.closedP} ${aux?.closedN} ${train?.closedP} ${train?.closedN} ${seen.joined.join('+')}`;
}

/** Train closed, at least one raft on the bus, and the device can see its voltage. */
function isLive(seen: Observation, rig: Rig): boolean {
  const train = seen.train?.value;
  return (
    train?.closedP === 1 &&
    train.closedN === 1 &&
    Math.abs(train.trainV) > rig.bleeder.safeV &&
    seen.joined.length > 0
  );
}

/** Watches the balance of the poles by the meter while no resistor disturbs it. */
function screen(before: LiveState, seen: Observation): LiveState {
  const meter = seen.meter;
  const undisturbed =
    before.step === 'idle' &&
    seen.isolation?.value.resistor === ISOLATION_RESISTOR.none &&
    seen.ordered.isolationResistor === ISOLATION_RESISTOR.none &&
    // The poles swing back slowly when the resistor lets go: leaks of megohms into tenths of microfarads.
    seen.ordered.sinceMs.isolation > 3000;
  if (meter === null || !meter.isNew || !undisturbed) return before;
  const { plugPositiveV, plugNegativeV } = meter.value;
  const share = plugPositiveV / (plugPositiveV - plugNegativeV);
  if (!Number.isFinite(share)) return before;
  if (Number.isNaN(before.balance)) return balanced(before, share, 0, before.wanted);
  if (Math.abs(share - before.balance) > SHIFT) {
    const shifted = before.shifted + 1;
    // The new balance is taken as it is: the measurement says what it means.
    return shifted < 2
      ? balanced(before, before.balance, shifted, before.wanted)
      : balanced(before, share, 0, true);
  }
  return balanced(before, before.balance + 0.05 * (share - before.balance), 0, before.wanted);
}

/** Written out: this happens in every step, and the balance alone changes (see check.ts on spreading states). */
const balanced = (s: LiveState, balance: number, shifted: number, wanted: boolean): LiveState => ({
  step: s.step,
  wanted,
  startedMs: s.startedMs,
  window: s.window,
  switchedMs: s.switchedMs,
  onPositive: s.onPositive,
  last: s.last,
  network: s.network,
  networkSinceMs: s.networkSinceMs,
  balance,
  shifted,
});

function begin(s: LiveState, nowMs: number): LiveState {
  return { ...s, step: 'positive', wanted: false, startedMs: nowMs, window: [], onPositive: null };
}

/** Takes one sample of the position being measured and moves on when it has settled. */
function measure(s: LiveState, seen: Observation, rig: Rig): LiveState {
  const isolation = seen.isolation;
  if (s.step === 'idle' || isolation === null || !isolation.isNew) return s;
  const { point, resistor, positiveV, negativeV } = isolation.value;
  if (point !== ISOLATION_POINT.joined || resistor !== ISOLATION_RESISTOR[s.step])
    return { ...s, window: [] };
  const tMs = sampleMs(seen, rig, 'isolation');
  const switchedMs = s.window.length === 0 ? tMs - rig.link.periodMs : s.switchedMs;
  const window = addPair(s.window, { tMs, positiveV, negativeV: -negativeV });
  const pair = settledPair(window, settleRule(rig));
  if (pair === null) return { ...s, window, switchedMs };
  if (s.step === 'positive') return { ...s, step: 'negative', window: [], onPositive: pair };
  if (s.onPositive === null) return { ...s, step: 'idle', window: [] };
  // The swing from one pole to the other begins at a settled pair, so even its first sample tells the time constant.
  const fromV = Math.abs(s.onPositive.positiveV - pair.positiveV);
  const tauMs = settlingMs(window, pair, switchedMs, fromV);
  const { knownOhm, meterOhm, figure } = rig.isolation;
  const leakage = solveTwoPositions(s.onPositive, pair, knownOhm, meterOhm);
  const worst = solveUnfavourably(s.onPositive, pair, knownOhm, meterOhm, READING_SHARE, READING_FLOOR_V);
  const bothV = Math.abs(pair.positiveV + pair.negativeV);
  const last: Result = {
    startedMs: s.startedMs,
    doneMs: seen.nowMs,
    leakage,
    figureOhm: figure === 'parallel' ? worst.parallelOhm : worst.lowerOhm,
    // τ = C ÷ G with every pole capacitance in parallel from chassis; the energy is at the present voltage.
    storedJ: 0.5 * (tauMs / 1000) * leakage.totalS * bothV * bothV,
  };
  return { ...s, step: 'idle', window: [], onPositive: null, last };
}

export const measuredOk = (result: Result | null, rig: Rig): boolean =>
  result !== null &&
  result.figureOhm >= isolationLimit(rig).limit &&
  result.storedJ <= rig.isolation.maxStoredJ;

function figures(s: LiveState, seen: Observation, rig: Rig): Finding[] {
  const findings: Finding[] = [];
  if (s.last !== null) {
    const { figureOhm, storedJ, doneMs } = s.last;
    const limit = isolationLimit(rig);
    const low = !(figureOhm >= limit.limit);
    const { positiveOhm, negativeOhm } = s.last.leakage;
    const part = !(positiveOhm <= 2 * negativeOhm) ? 'N' : !(negativeOhm <= 2 * positiveOhm) ? 'P' : 'both';
    findings.push(
      state('isolation-low', low, figureOhm, limit, low ? doneMs : seen.nowMs, low ? part : 'joined'),
    );
    // With a low isolation the poles swing too fast to be timed; that session is over anyway.
    const much = !low && !(storedJ <= rig.isolation.maxStoredJ);
    const against = { limit: rig.isolation.maxStoredJ, unit: 'J', setting: 'isolation.maxStoredJ' };
    findings.push(state('stored-charge', much, storedJ, against, much ? doneMs : seen.nowMs));
  }
  return findings;
}

function statements(s: LiveState, seen: Observation, rig: Rig): Finding[] {
  const findings = figures(s, seen, rig);
  const { checkMaxS, everyS } = rig.isolation;
  const takenS = s.step === 'idle' ? 0 : (seen.nowMs - s.startedMs) / 1000;
  const sinceLastS = s.last === null ? 0 : (seen.nowMs - s.last.doneMs) / 1000;
  const inTime = takenS <= checkMaxS && sinceLastS <= everyS + checkMaxS;
  // Told by whichever has used more of its time: one that takes too long, or one that is not begun again.
  const tooOld = sinceLastS / (everyS + checkMaxS) > takenS / checkMaxS;
  const against = tooOld
    ? { limit: everyS + checkMaxS, unit: 's', setting: 'isolation.everyS' }
    : { limit: checkMaxS, unit: 's', setting: 'isolation.checkMaxS' };
  findings.push(
    state('isolation-unproven', !inTime, tooOld ? sinceLastS : takenS, against, seen.nowMs, 'joined'),
  );
  return findings;
}

function runningDown(before: LiveState, seen: Observation, rig: Rig): CheckResult<LiveState> {
  const s: LiveState = { ...before, step: 'idle', window: [], wanted: false };
  const findings = figures(s, seen, rig);
  const stands = measuredOk(s.last, rig) && isFresh(seen.isolation, rig.link.slowReadingMs);
  return { state: s, findings, proofs: stands ? ['isolation-joined'] : [] };
}

export const isolationLive: Check<LiveState> = {
  name: 'isolation-live',
  codes: ['isolation-low', 'isolation-unproven', 'stored-charge'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const speaks =
      between(seen.phase, 'joining-train', 'ramping-down') || seen.phase === 'tripped-ramping-down';
    if (!speaks) return { state: INITIAL, findings: [] };
    const network = networkNow(seen);
    let s: LiveState = before;
    if (network !== s.network) {
      // A measurement across a change of the network would solve a network that never was.
      const restart = s.step !== 'idle';
      s = { ...s, network, networkSinceMs: seen.nowMs, step: 'idle', window: [], balance: Number.NaN };
      if (restart) s = { ...s, wanted: true };
      // While rafts still join, an earlier figure says nothing about the network that will be charged.
      if (seen.phase === 'joining-train') s = { ...s, last: null };
    }
    const live = isLive(seen, rig);
    if (!live) {
      return { state: { ...INITIAL, network, networkSinceMs: s.networkSinceMs }, findings: [] };
    }
    s = screen(s, seen);
    // Running down: the figures stand, but nothing new is switched into a network about to be parted.
    if (!between(seen.phase, 'joining-train', 'tapering')) return runningDown(s, seen, rig);
    const due = s.last === null || seen.nowMs - s.last.startedMs >= 1000 * rig.isolation.everyS;
    const quiet = seen.nowMs - s.networkSinceMs >= QUIET_MS;
    // Poles on their way are a network about to change.
    const still = seen.phase !== 'closing' && seen.phase !== 'pre-charging';
    if (s.step === 'idle' && quiet && still && (due || s.wanted)) s = begin(s, seen.nowMs);
    s = measure(s, seen, rig);
    const findings = statements(s, seen, rig);
    const stands =
      measuredOk(s.last, rig) &&
      isFresh(seen.isolation, rig.link.slowReadingMs) &&
      !findings.some((found) => found.failing);
    const resistor = s.step === 'idle' ? ISOLATION_RESISTOR.none : ISOLATION_RESISTOR[s.step];
    return {
      state: s,
      findings,
      proofs: stands ? ['isolation-joined'] : [],
      ask: { point: ISOLATION_POINT.joined, resistor },
    };
  },
};
