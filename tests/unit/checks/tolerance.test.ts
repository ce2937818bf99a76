/** What several checks hold readings against, by arithmetic on the rig's figures. */
import { describe, expect, it } from 'vitest';
import { partedV, plausibleA, ratedA, standsAtHoldPoint, trackingA } from '../../../src/checks/tolerance.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, Scene, shoes } from './build.js';

describe('tolerances', () => {
  it.each([
    // 2 %, at least 2.5 A, and 5 %, at least 3 A: the floors end at 125 A and at 60 A.
    [0, 2.5, 3],
    [60, 2.5, 3],
    [100, 2.5, 5],
    [125, 2.5, 6.25],
    [200, 4, 10],
    [-200, 4, 10],
  ])('at %d A: %d A of the set-point, %d A between instruments', (currentA, track, plausible) => {
    expect(trackingA(depot, currentA)).toBeCloseTo(track, 9);
    expect(plausibleA(depot, currentA)).toBeCloseTo(plausible, 9);
  });
  it('cannot be told of a current that cannot be read', () => {
    expect(trackingA(depot, Number.NaN)).toBeNaN();
    expect(plausibleA(depot, Number.NaN)).toBeNaN();
  });
  const volts = (voltageV: number, closedDropV: number): Rig => ({
    ...depot,
    plausibility: { ...depot.plausibility, voltageV },
    contactors: { ...depot.contactors, closedDropV },
  });
  it.each([
    [5, 3, 15],
    [6, 3, 18],
    [1, 7, 21],
    [1, 1, 15],
  ])(
    'parted contacts stand clear of ±%d V of voltmeters and of %d V across closed ones: %d V',
    (v, drop, parted) => {
      expect(partedV(volts(v, drop))).toBe(parted);
    },
  );
  it('rates the whole by its weakest part', () => {
    expect([ratedA(depot), ratedA(shoes)]).toEqual([300, 1500]);
    expect(ratedA({ ...depot, converter: { ...depot.converter, maxCurrentA: 280 } })).toBe(280);
  });
});

describe('the hold point', () => {
  const stands = (holdPointA: number, leastLimitA: number, setpointA: number, currentA: number): boolean => {
    const scene = new Scene().charging(currentA, 'ramping');
    Object.assign(scene.governed, { holdPointA, leastLimitA, setpointA });
    return standsAtHoldPoint(scene.report(), depot);
  };
  it.each([
    ['both there', 30, 300, 30, 30, true],
    ['set-point half an ampere off', 30, 300, 29.5, 30, true],
    ['set-point over it by half an ampere', 30, 300, 30.5, 30, true],
    ['set-point further off', 30, 300, 29.4, 30, false],
    ['set-point gone past it', 30, 300, 30.6, 30, false],
    ['current at the end of its tolerance of 2.5 A', 30, 300, 30, 27.5, true],
    ['over it by as much', 30, 300, 30, 32.5, true],
    ['current below it', 30, 300, 30, 27.4, false],
    ['current above it', 30, 300, 30, 32.6, false],
    ['current unreadable', 30, 300, 30, Number.NaN, false],
    ['where less is permitted, that is the point', 30, 20, 20, 20, true],
    ['where less is permitted, the hold point is not', 30, 20, 30, 30, false],
    ['nothing permitted, nothing stands', 30, 0, 0, 0, false],
  ])('%s', (_, holdPointA, leastLimitA, setpointA, currentA, expected) => {
    expect(stands(holdPointA, leastLimitA, setpointA, currentA)).toBe(expected);
  });
  it('does not stand without a meter', () => {
    const scene = new Scene().charging(30, 'ramping');
    expect(standsAtHoldPoint({ ...scene.report(), meter: null }, depot)).toBe(false);
  });
});
