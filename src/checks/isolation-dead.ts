/**
 * Isolation before anything is live: charger side, then cable side, by injection, one monitor at a time.
 *
 * The injection gives the parallel value of both poles, which is never above the lower pole's resistance:
 * held against the lower-pole limit it errs on the safe side (DEVELOPERS.md, Decisions).
 */
import { ISOLATION_POINT, ISOLATION_RESISTOR } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, type IsolationAsk, isFresh, type Observation } from './check.js';
import { state } from './finding.js';
import { injectedApartOhm, injectedParallelOhm } from './known-resistor.js';
import { between } from './phases.js';
import { addPair, type PolePair, type Settling, settledPair } from './settle.js';
import { sampleMs } from './where.js';

export type Side = 'charger' | 'cable';
const SIDES: readonly Side[] = ['charger', 'cable'];

export interface DeadState {
  /** Parallel resistance found so far. */
  readonly foundOhm: Readonly<Partial<Record<Side, number>>>;
  readonly window: Settling;
  readonly lowSinceMs: number;
}

const INITIAL: DeadState = { foundOhm: {}, window: [], lowSinceMs: Number.NaN };
const OFF: IsolationAsk = { point: ISOLATION_POINT.off, resistor: ISOLATION_RESISTOR.none };
/** Readings good to this share: the figure must clear the limit by what it may be off. */
const READING_SHARE = 0.01;

export const isolationLimit = (rig: Rig) => ({
  limit: rig.isolation.minOhmPerVolt * rig.isolation.workingVoltageV,
  unit: 'ohm',
  setting: 'isolation.minOhmPerVolt',
});

/** Everything that settles: five time constants of the injection into the larger side. */
export function settleRule(rig: Rig) {
  const { injectionOhm, network } = rig.isolation;
  const leastMs = 5000 * injectionOhm * Math.max(network.chargerF, network.cableF);
  return { leastMs: Math.max(leastMs, 100), spanMs: 200, samples: 4, share: 0.005, floorV: 0.15 };
}

/**
 * What settled volts under injection mean, by the worse reading of the two an uncertain voltmeter may mean. Only the
 * charger side has a capacitor that may hold a charge from before: a session that ends leaves up to `safeV` on it.
 */
export function provenOhm(settled: Pick<PolePair, 'positiveV' | 'negativeV'>, rig: Rig, side: Side): number {
  const { injectionV, injectionOhm, meterOhm } = rig.isolation;
  const ohm = injectedParallelOhm(settled, injectionV, injectionOhm, meterOhm);
  if (!Number.isNaN(ohm) || side === 'cable') return (1 - READING_SHARE) * ohm;
  const { safeV } = rig.bleeder;
  return (1 - READING_SHARE) * injectedApartOhm(settled, injectionV, injectionOhm, meterOhm, safeV);
}

/** Takes a sample of the side being measured. */
function measure(before: DeadState, side: Side, seen: Observation, rig: Rig): DeadState {
  const isolation = seen.isolation;
  if (isolation === null || !isolation.isNew) return before;
  const { point, injecting, positiveV, negativeV } = isolation.value;
  // Only what the device itself says it is connected to; a sample from the step before starts anew.
  if (point !== ISOLATION_POINT[side] || injecting !== 1) return { ...before, window: [] };
  const window = addPair(before.window, { tMs: sampleMs(seen, rig, 'isolation'), positiveV, negativeV });
  const settled = settledPair(window, settleRule(rig));
  if (settled === null) return { ...before, window };
  const lower = provenOhm(settled, rig, side);
  if (Number.isNaN(lower)) return { ...before, window };
  return { ...before, window: [], foundOhm: { ...before.foundOhm, [side]: lower } };
}

export const isolationDead: Check<DeadState> = {
  name: 'isolation-dead',
  codes: ['isolation-low', 'isolation-unproven'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    if (seen.phase !== 'checking-isolation') {
      // The proof outlives its phase: with the train joined the question cannot be asked again.
      const stands = between(seen.phase, 'joining-train', 'closing') && allPass(before, rig);
      return stands
        ? { state: before, findings: [], proofs: ['isolation-dead'] }
        : { state: INITIAL, findings: [] };
    }
    const current = SIDES.find((side) => before.foundOhm[side] === undefined);
    const measured = current === undefined ? before : measure(before, current, seen, rig);
    const limit = isolationLimit(rig);
    const low = SIDES.some((side) => measured.foundOhm[side] !== undefined && !passes(measured, side, rig));
    const lowSinceMs = low ? (Number.isNaN(before.lowSinceMs) ? seen.nowMs : before.lowSinceMs) : Number.NaN;
    const next = { ...measured, lowSinceMs };
    const findings: Finding[] = SIDES.flatMap((side) => {
      const ohm = next.foundOhm[side];
      if (ohm === undefined) return [];
      const failing = !passes(next, side, rig);
      return [state('isolation-low', failing, ohm, limit, failing ? lowSinceMs : seen.nowMs, side)];
    });
    const waiting = SIDES.find((side) => next.foundOhm[side] === undefined);
    // One proof per side, each with its own time.
    const allowedMs = 1000 * rig.isolation.checkMaxS * (waiting === 'cable' ? 2 : 1);
    const late = waiting !== undefined && !(seen.phaseMs <= allowedMs);
    findings.push(
      state(
        'isolation-unproven',
        late,
        seen.phaseMs / 1000,
        { limit: allowedMs / 1000, unit: 's', setting: 'isolation.checkMaxS' },
        seen.nowMs,
        waiting ?? 'cable',
      ),
    );
    const isolation = seen.isolation;
    const isOff = isFresh(isolation, rig.link.slowReadingMs) && isolation.value.point === ISOLATION_POINT.off;
    const proven = allPass(next, rig) && isOff;
    const ask = low || waiting === undefined ? OFF : { point: ISOLATION_POINT[waiting], resistor: 0 };
    return { state: next, findings, proofs: proven ? ['isolation-dead'] : [], ask };
  },
};

const passes = (s: DeadState, side: Side, rig: Rig): boolean =>
  (s.foundOhm[side] ?? Number.NaN) >= isolationLimit(rig).limit;
const allPass = (s: DeadState, rig: Rig): boolean => SIDES.every((side) => passes(s, side, rig));
