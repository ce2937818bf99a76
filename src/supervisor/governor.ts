/**
 * The governor: the one place where the current set-point comes from. Pure.
 *
 * The set-point never exceeds the least limit of the moment (I3): when a limit falls below it, it falls at
 * once. Upward it never moves faster than the governed slope, which is the slower of the rig's ramp and what
 * the supply can take at the present voltage; nothing goes on with a bang.
 */
import type { CurrentLimit } from '../checks/check.js';
import type { Rig } from '../rig/schema.js';

export type GovernorMode = 'off' | 'govern' | 'ramp-down';

export interface GovernorState {
  readonly setpointA: number;
}

export interface Governed {
  readonly state: GovernorState;
  /** Least limit in force and its name. */
  readonly least: CurrentLimit;
  readonly slopeAPerS: number;
}

/** Never divides by nothing. Of a voltage the wrong way round no power follows: it counts as unreadable. */
const rightWayRound = (volts: number): number => (volts >= 0 ? Math.max(volts, 1) : Number.NaN);

/** Slope permitted upward, A/s: the rig's ramp or the supply's load slope at this voltage. */
export function governedSlopeAPerS(rig: Rig, volts: number): number {
  const bySupply = (rig.supply.slopeKwPerS * 1000) / rightWayRound(volts);
  const slope = Math.min(rig.ramp.upAPerS, bySupply);
  // A voltage that is unreadable or the wrong way round permits no rise at all.
  return slope > 0 ? slope : 0;
}

/** Limits that follow from rig and present voltage alone. */
export function fixedLimits(rig: Rig, volts: number): CurrentLimit[] {
  const v = rightWayRound(volts);
  return [
    { limit: 'converter current', currentA: rig.converter.maxCurrentA },
    { limit: 'converter power', currentA: rig.converter.maxPowerW / v },
    { limit: 'connection rating', currentA: rig.connection.ratedCurrentA },
    {
      limit: 'supply power',
      currentA: (rig.supply.maxPowerW - rig.converter.noLoadLossW) / (v + rig.converter.lossVoltsPerA),
    },
  ];
}

/** An unreadable limit is no permission: NaN counts as zero. */
export function leastLimit(limits: readonly CurrentLimit[]): CurrentLimit {
  let least: CurrentLimit = { limit: 'none given', currentA: 0 };
  limits.forEach((l, i) => {
    const currentA = l.currentA >= 0 ? l.currentA : 0;
    if (i === 0 || currentA < least.currentA) least = { limit: l.limit, currentA };
  });
  return least;
}

/**
 * @param stepMs time since the previous call; bounded by the caller's deadlines, and here to two periods so
 *   that a late step never yields a jump
 */
export function govern(
  state: GovernorState,
  mode: GovernorMode,
  limits: readonly CurrentLimit[],
  volts: number,
  stepMs: number,
  rig: Rig,
): Governed {
  const least = leastLimit(limits);
  const slopeAPerS = governedSlopeAPerS(rig, volts);
  const seconds = Math.min(stepMs, 2 * rig.link.periodMs) / 1000;
  let setpointA = state.setpointA;
  if (mode === 'off') setpointA = 0;
  else if (mode === 'ramp-down') setpointA = Math.max(0, setpointA - rig.ramp.downAPerS * seconds);
  else setpointA = setpointA + slopeAPerS * seconds;
  return { state: { setpointA: Math.min(setpointA, least.currentA) }, least, slopeAPerS };
}
