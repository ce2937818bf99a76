/** Tolerances that several checks hold readings against: tracking, plausibility, parted contacts. */
import type { Rig } from '../rig/schema.js';
import type { Observation } from './check.js';

/** How far the measured current may be from a set-point while steady. */
export const trackingA = (rig: Rig, setpointA: number): number =>
  Math.max((rig.converter.trackingPercent / 100) * Math.abs(setpointA), rig.converter.trackingFloorA);

/** How far two instruments may be apart on one current. */
export const plausibleA = (rig: Rig, currentA: number): number =>
  Math.max((rig.plausibility.currentPercent / 100) * Math.abs(currentA), rig.plausibility.currentFloorA);

/** Volts across a contact that can only stand across an open one: clear of every voltmeter's error. */
export const partedV = (rig: Rig): number =>
  Math.max(3 * rig.plausibility.voltageV, 3 * rig.contactors.closedDropV, 15);

/** Most the whole connection may carry. */
export const ratedA = (rig: Rig): number => Math.min(rig.connection.ratedCurrentA, rig.converter.maxCurrentA);

/** Measured current and set-point both stand at the hold point. */
export function standsAtHoldPoint(seen: Observation, rig: Rig): boolean {
  const { holdPointA, leastLimitA, setpointA } = seen.governed;
  const targetA = Math.min(holdPointA, leastLimitA);
  const measuredA = seen.meter?.value.currentA ?? Number.NaN;
  return (
    targetA > 0 &&
    Math.abs(setpointA - targetA) <= 0.5 &&
    Math.abs(measuredA - targetA) <= trackingA(rig, targetA)
  );
}
