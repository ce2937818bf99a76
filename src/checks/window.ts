/**
 * The battery's window: what each raft and the highest cell permit, when that begins to bind, and when the
 * session has reached its end.
 *
 * The cell ceiling is approached, not hit: the limit is the current at which the highest cell would stand at
 * the ceiling, by the resistance of a cell with all its branches settled. A step of current moves a cell at
 * once by less than that, so the limit closes in from below and does not hunt, however slow the samples.
 */
import type { Rig } from '../rig/schema.js';
import type { Check, CheckResult, CurrentLimit, EndReason, Observation } from './check.js';
import { between } from './phases.js';
import { hasParted, type RaftLimit, raftLimits, shares, smoothedShares } from './raft-limits.js';
import { ratedA } from './tolerance.js';
import { coldFactor, isBattery, raftName } from './where.js';

export interface WindowState {
  /** Smoothed share of each raft in the current. */
  readonly share: readonly number[];
  /** Bus current that brings the highest cell to its ceiling, smoothed; Infinity before the first sample. */
  readonly ceilingA: number;
  /** Samples in a row with the battery's own ceiling binding. */
  readonly binding: number;
  /** Since when the ceiling leaves too little current to go on; NaN while it does not. */
  readonly fullMs: number;
  /** Since when the least limit is too low to go on, for another reason; NaN while it is not. */
  readonly starvedMs: number;
}

/** Raft samples in a row with the ceiling binding: about a second, so that a passing dip of a limit is no taper. */
const SAMPLES = 20;
/** A single high sample is no full battery: the trip beyond the ceiling must have its chance to speak first. */
const FULL_MS = 2000;
const STARVED_MS = 5000;
/** The limit may fall quickly and rises slowly. */
const FALL_SHARE = 0.5;
const RISE_SHARE = 0.2;
/** A raft whose cells are this far apart (share of the permitted spread) is held up by its highest cell. */
const WEAK_SHARE = 0.25;

/** Cell volts per ampere on the bus, all branches settled. */
function voltsPerAmp(seen: Observation, raft: number, share: number, rig: Rig): number {
  const { cell, parallelCells } = rig.battery.raft;
  const cold = coldFactor(rig, seen.rafts[raft]?.value.cellMinC ?? 25);
  return ((cell.r0Ohm + cell.r1Ohm + cell.r2Ohm) * cold * share) / parallelCells;
}

function ceilingNow(
  seen: Observation,
  limits: readonly RaftLimit[],
  share: readonly number[],
  rig: Rig,
): number {
  const currentA = Math.max(0, seen.meter?.value.currentA ?? Number.NaN);
  return limits.reduce((leastA, each) => {
    const perA = voltsPerAmp(seen, each.raft, share[each.raft] ?? 1, rig);
    const own = currentA + each.headroomV / perA;
    // NaN permits nothing.
    return own >= leastA ? leastA : own > 0 ? own : 0;
  }, Number.POSITIVE_INFINITY);
}

function smooth(beforeA: number, nowA: number): number {
  if (!Number.isFinite(beforeA) || !Number.isFinite(nowA)) return nowA;
  return Math.max(0, beforeA + (nowA < beforeA ? FALL_SHARE : RISE_SHARE) * (nowA - beforeA));
}

export const batteryWindow: Check<WindowState> = {
  name: 'window',
  codes: [],
  initial: (rig) => ({
    share: rig.battery.rafts.map(() => Number.NaN),
    ceilingA: Number.POSITIVE_INFINITY,
    binding: 0,
    fullMs: Number.NaN,
    starvedMs: Number.NaN,
  }),
  run(before, seen, rig) {
    const live =
      between(seen.phase, 'joining-train', 'ramping-down') || seen.phase === 'tripped-ramping-down';
    if (!live) return { state: batteryWindow.initial(rig), findings: [] };
    const now = shares(seen);
    const anyNew = seen.joined.some((raft) => seen.rafts[raft]?.isNew);
    const share = smoothedShares(before.share, now, anyNew);
    const limits = raftLimits(seen, share, rig);
    const nowA = ceilingNow(seen, limits, share, rig);
    const smoothA =
      anyNew || !Number.isFinite(before.ceilingA) ? smooth(before.ceilingA, nowA) : before.ceilingA;
    // With a raft gone the others' cells rise in this very moment, whoever has been heard of.
    const ceilingA = hasParted(before.share, now) ? Math.min(smoothA, nowA) : smoothA;
    const nearA = limits
      .filter((each) => each.tapers)
      .reduce((leastA, each) => Math.min(leastA, each.currentA), ceilingA);
    const binds = nearA <= seen.governed.leastLimitA + 0.5 && nearA < 0.98 * ratedA(rig);
    const charging = between(seen.phase, 'ramping', 'tapering');
    const binding = charging && binds ? (anyNew ? before.binding + 1 : before.binding) : 0;
    const starved = charging && !binds && seen.governed.leastLimitA < rig.ramp.endCurrentA;
    const starvedMs = starved ? (Number.isNaN(before.starvedMs) ? seen.nowMs : before.starvedMs) : Number.NaN;
    const full = binding >= SAMPLES && nearA < rig.ramp.endCurrentA;
    const fullMs = full ? (Number.isNaN(before.fullMs) ? seen.nowMs : before.fullMs) : Number.NaN;
    const s: WindowState = { share, ceilingA, binding, fullMs, starvedMs };
    const named: CurrentLimit[] = limits.map((each) => ({
      limit: raftName(rig, each.raft),
      currentA: each.currentA,
    }));
    if (limits.length > 0) named.push({ limit: 'cell ceiling', currentA: ceilingA });
    // Nothing on the bus takes the current: the trip wants a second report, the set-point falls at once.
    else named.push({ limit: 'no raft on the bus', currentA: 0 });
    const end = charging ? endOf(s, seen, rig) : undefined;
    const result: CheckResult<WindowState> = {
      state: s,
      findings: [],
      proofs: binding >= SAMPLES ? ['tapering'] : [],
      limits: named,
    };
    return end === undefined ? result : { ...result, end };
  },
};

function endOf(s: WindowState, seen: Observation, rig: Rig): EndReason | undefined {
  const onBus = seen.joined.filter((raft) => isBattery(rig, raft));
  const soc =
    onBus.reduce((sum, raft) => sum + (seen.rafts[raft]?.value.soc ?? Number.NaN), 0) / onBus.length;
  const energyKwh = seen.energyToBatteryKwh + rampDownKwh(seen, rig);
  if (soc >= seen.wish.targetSoc || energyKwh >= seen.wish.targetEnergyKwh) return 'target';
  if (soc >= rig.battery.ceilingSoc) return 'ceiling';
  if (seen.nowMs - s.fullMs >= FULL_MS) return isHeldByOneCell(seen, onBus, rig) ? 'weakest-cell' : 'ceiling';
  if (seen.sessionMs >= 1000 * seen.wish.maxS) return 'deadline';
  if (seen.nowMs - s.starvedMs >= STARVED_MS) return 'derated-out';
  return undefined;
}

/** What still flows while the current comes down at its slope: V·I² ÷ 2·slope. */
function rampDownKwh(seen: Observation, rig: Rig): number {
  const currentA = Math.max(0, seen.meter?.value.currentA ?? 0);
  const joule = ((seen.train?.value.trainV ?? 0) * currentA ** 2) / (2 * rig.ramp.downAPerS);
  return Number.isFinite(joule) ? joule / 3.6e6 : 0;
}

/** The raft closest to its ceiling is there by its highest cell alone. */
function isHeldByOneCell(seen: Observation, onBus: readonly number[], rig: Rig): boolean {
  const [highest] = onBus
    .flatMap((raft) => seen.rafts[raft]?.value ?? [])
    .sort((a, b) => b.cellMaxV - a.cellMaxV);
  return (
    highest !== undefined &&
    highest.cellMaxV - highest.cellMinV >= WEAK_SHARE * rig.battery.raft.maxCellSpreadV
  );
}
