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

/** Share of each joined raft in the bus current; equal while the current is too small to tell. */
export function shares(seen: Observation): ReadonlyMap<number, number> {
  const joined = seen.joined;
  const currents = joined.map((raft) => Math.max(0, seen.rafts[raft]?.value.packA ?? Number.NaN));
  const sumA = currents.reduce((sum, each) => sum + each, 0);
  const telling = sumA >= TELLING_A_PER_RAFT * joined.length;
  return new Map(
    joined.map((raft, index) => [raft, telling ? currents[index]! / sumA : 1 / joined.length] as const),
  );
}

/** Share of its allowance left by heat: full up to `derateFromC`, nothing at `maxChargeC`. */
function heatShare(rig: Rig, cellC: number): number {
  const { derateFromC, maxChargeC } = rig.battery.raft;
  const left = (maxChargeC - cellC) / (maxChargeC - derateFromC);
  return Number.isNaN(left) ? 0 : Math.min(1, Math.max(0, left));
}

/** `shareOf`: smoothed shares, so that noise in small currents does not move the limit. */
export function raftLimits(
  seen: Observation,
  shareOf: ReadonlyMap<number, number>,
  rig: Rig,
): readonly RaftLimit[] {
  return seen.joined.flatMap((raft) => {
    const reading = seen.rafts[raft];
    if (reading === null || reading === undefined || !isBattery(rig, raft)) return [];
    const { allowedA, cellMaxC, cellMaxV } = reading.value;
    const mostA = rig.battery.raft.maxCurrentA * heatShare(rig, cellMaxC);
    // NaN allows nothing.
    const ownA = allowedA >= 0 ? Math.min(allowedA, mostA) : 0;
    const share = shareOf.get(raft) ?? 1;
    const headroomV = rig.battery.raft.ceilingCellV - cellMaxV;
    const tapers = headroomV <= NEAR_V && ownA < HELD_BACK * mostA;
    return [{ raft, currentA: share > 0 ? ownA / share : ownA, headroomV, tapers }];
  });
}
