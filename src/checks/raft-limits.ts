/** What each joined raft permits on the bus: its own allowance over its measured share of the current. */
import type { Rig } from '../rig/schema.js';
import type { Observation } from './check.js';
import { isBattery } from './where.js';

export interface RaftLimit {
  readonly raft: number;
  /** Bus current at which this raft carries what it is allowed. */
  readonly currentA: number;
  /** Volts left to the ceiling of its highest cell. */
  readonly headroomV: number;
  /** Its management unit holds it back because its highest cell is near the ceiling, not for heat or rating. */
  readonly tapers: boolean;
}

/** Within this of the ceiling a management unit tapers because of it. */
const NEAR_V = 0.05;
/** Allowing less than this share of what heat and rating permit is holding back. */
const HELD_BACK = 0.97;
/** Below this share of the rated current the measured shares are noise: equal shares are assumed. */
const TELLING_A_PER_RAFT = 10;

/** Share of each raft in the bus current, equal while it is too small to tell; NaN for one that is not joined. */
export function shares(seen: Observation): readonly number[] {
  const { joined } = seen;
  let sumA = 0;
  for (const raft of joined) sumA += chargingA(seen, raft);
  const telling = sumA >= TELLING_A_PER_RAFT * joined.length;
  const share = seen.rafts.map(() => Number.NaN);
  for (const raft of joined) share[raft] = telling ? chargingA(seen, raft) / sumA : 1 / joined.length;
  return share;
}
const chargingA = (seen: Observation, raft: number): number =>
  Math.max(0, seen.rafts[raft]?.value.packA ?? Number.NaN);

/** A new sample moves a smoothed share by this much of the difference. */
const SHARE_SMOOTHING = 0.3;

/** True when a raft that had a share before has none now: it has left the bus. */
export const hasParted = (before: readonly number[], now: readonly number[]): boolean =>
  before.some((old, raft) => !Number.isNaN(old) && Number.isNaN(now[raft] ?? Number.NaN));

/**
 * The measured shares without their noise. What a raft carried falls to the others in the moment it parts, so no
 * share comes up slowly from what it was. Each that stays has the greater of two: what is measured, which may be
 * in the dip that follows, and its part of what those that stay carried together. So the shares never come to
 * less than the whole, and the least limit never to more than the rafts on the bus allow together.
 */
export function smoothedShares(
  before: readonly number[],
  now: readonly number[],
  anyNew: boolean,
): readonly number[] {
  const parted = hasParted(before, now);
  let staying = 0;
  before.forEach((old, raft) => {
    if (old >= 0 && (now[raft] ?? Number.NaN) >= 0) staying += old;
  });
  return before.map((old, raft) => {
    const fresh = now[raft] ?? Number.NaN;
    if (Number.isNaN(old) || Number.isNaN(fresh)) return fresh;
    if (parted) return staying > 0 ? Math.max(fresh, old / staying) : fresh;
    return anyNew ? old + SHARE_SMOOTHING * (fresh - old) : old;
  });
}

/** Share of its allowance left by heat: full up to `derateFromC`, nothing at `maxChargeC`. */
function heatShare(rig: Rig, cellC: number): number {
  const { derateFromC, maxChargeC } = rig.battery.raft;
  const left = (maxChargeC - cellC) / (maxChargeC - derateFromC);
  return Number.isNaN(left) ? 0 : Math.min(1, Math.max(0, left));
}

/** `shareOf`: smoothed shares by raft, so that noise in small currents does not move the limit; NaN counts as 1. */
export function raftLimits(seen: Observation, shareOf: readonly number[], rig: Rig): readonly RaftLimit[] {
  const limits: RaftLimit[] = [];
  for (const raft of seen.joined) {
    const reading = seen.rafts[raft] ?? null;
    if (reading === null || !isBattery(rig, raft)) continue;
    const { allowedA, cellMaxC, cellMaxV } = reading.value;
    const mostA = rig.battery.raft.maxCurrentA * heatShare(rig, cellMaxC);
    // NaN allows nothing.
    const ownA = allowedA >= 0 ? Math.min(allowedA, mostA) : 0;
    const smoothed = shareOf[raft] ?? Number.NaN;
    const share = Number.isNaN(smoothed) ? 1 : smoothed;
    const headroomV = rig.battery.raft.ceilingCellV - cellMaxV;
    const tapers = headroomV <= NEAR_V && ownA < HELD_BACK * mostA;
    limits.push({ raft, currentA: share > 0 ? ownA / share : ownA, headroomV, tapers });
  }
  return limits;
}
