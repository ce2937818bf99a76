/** Share of each raft in the current, and what it permits on the bus by its own allowance. */
import { describe, expect, it } from 'vitest';
import { hasParted, raftLimits, shares, smoothedShares } from '../../../src/checks/raft-limits.js';
import { depot, generatorYard, Scene } from './build.js';

/** These currents by the rafts' own instruments; one that is undefined is not joined. */
function carrying(...packA: (number | undefined)[]): Scene {
  const scene = new Scene().charging(100);
  scene.rafts.forEach((r, i) => {
    Object.assign(r, packA[i] === undefined ? { joined: 0 } : { packA: packA[i] });
  });
  return scene;
}

describe('shares', () => {
  // 10 A for each raft on the bus tell: 40 A of four, 20 A of two.
  it.each([
    ['measured', [20, 10, 5, 5], [0.5, 0.25, 0.125, 0.125]],
    ['equal below 40 A of four', [19.9, 10, 5, 5], [0.25, 0.25, 0.25, 0.25]],
    ['equal below 20 A of two', [15, 4.9, undefined, undefined], [0.5, 0.5, Number.NaN, Number.NaN]],
    ['measured from 20 A of two', [15, 5, undefined, undefined], [0.75, 0.25, Number.NaN, Number.NaN]],
    ['whole of the only one', [undefined, undefined, 80, undefined], [Number.NaN, Number.NaN, 1, Number.NaN]],
    ['none of one that gives current', [-20, 30, 30, 60], [0, 0.25, 0.25, 0.5]],
  ])('%s: %j A', (_, packA, expected) => {
    expect(shares(carrying(...packA).report())).toEqual(expected);
  });
  it('are not measured when one cannot be read or seen', () => {
    expect(shares(carrying(Number.NaN, 50, 50, 50).report())).toEqual([0.25, 0.25, 0.25, 0.25]);
    const seen = carrying(10, 50, 50, 50).report();
    expect(shares({ ...seen, rafts: [null, ...seen.rafts.slice(1)] })).toEqual([0.25, 0.25, 0.25, 0.25]);
  });
});

describe('smoothed shares', () => {
  const { NaN: gone } = Number;
  it.each([
    ['come three tenths of the way', [0.4, 0.6], [0.5, 0.5], true, [0.43, 0.57]],
    ['stay without a new sample', [0.4, 0.6], [0.5, 0.5], false, [0.4, 0.6]],
    ['begin with what is measured', [gone, gone], [0.3, 0.7], false, [0.3, 0.7]],
    ['are the whole at once of the only one that stays', [0.74, 0.26], [gone, 1], true, [gone, 1]],
    ['so without a new sample of that one', [0.74, 0.26], [gone, 1], false, [gone, 1]],
    // Half, a quarter, a quarter of what the three that stay had: the second raft is measured with more.
    [
      'are the greater of two when one parts',
      [0.4, 0.2, 0.2, 0.2],
      [0.5, 0.4, 0.1, gone],
      true,
      [0.5, 0.4, 0.25, gone],
    ],
    ['are not divided by nothing', [1, 0, 0], [gone, 0.5, 0.5], true, [gone, 0.5, 0.5]],
    ['count one that comes as one parts as it is', [0.5, 0.5, gone], [gone, 0.6, 0.4], true, [gone, 1, 0.4]],
    ['are none when all part', [0.5, 0.5], [gone, gone], true, [gone, gone]],
  ] as [string, number[], number[], boolean, number[]][])('%s', (_, before, now, anyNew, expected) => {
    const found = smoothedShares(before, now, anyNew);
    expected.forEach((share, raft) => {
      if (Number.isNaN(share)) expect(found[raft]).toBeNaN();
      else expect(found[raft]).toBeCloseTo(share, 9);
    });
  });
  it('tell a raft that left from one that comes or was never there', () => {
    expect(hasParted([0.5, 0.5], [gone, 1])).toBe(true);
    expect(hasParted([0.5, 0.5], [1])).toBe(true);
    expect(hasParted([gone, 1], [0.5, 0.5])).toBe(false);
    expect(hasParted([gone, 1], [gone, 1])).toBe(false);
  });
});

/** Limits of a train whose second raft reads like this, with this share of the current. */
const second = (change: Partial<Scene['rafts'][number]>, share = 0.25) => {
  const scene = carrying(50, 50, 50, 50);
  Object.assign(scene.rafts[1]!, change);
  return raftLimits(scene.report(), [0.25, share, 0.25, 0.25], depot)[1]!;
};

describe('limits', () => {
  // 120 A a raft; from 40 °C on less, nothing at 45 °C.
  it.each([
    ['its allowance', { allowedA: 100 }, 0.25, 400],
    ['its rating where it allows more', { allowedA: 200 }, 0.25, 480],
    ['what heat leaves of the rating', { allowedA: 120, cellMaxC: 44 }, 0.25, 96],
    ['all of it at 40 °C', { allowedA: 120, cellMaxC: 40 }, 0.25, 480],
    ['nothing at 45 °C', { allowedA: 120, cellMaxC: 45 }, 0.25, 0],
    ['nothing above', { allowedA: 120, cellMaxC: 50 }, 0.25, 0],
    ['nothing when its cells cannot be felt', { allowedA: 120, cellMaxC: Number.NaN }, 0.25, 0],
    ['nothing when it allows nothing', { allowedA: 0 }, 0.25, 0],
    ['nothing when it allows less than nothing', { allowedA: -10 }, 0.25, 0],
    ['nothing when it cannot be read', { allowedA: Number.NaN }, 0.25, 0],
    ['itself when it carries nothing', { allowedA: 100 }, 0, 100],
    ['itself when its share is not known', { allowedA: 100 }, Number.NaN, 100],
  ])('%s', (_, change, share, currentA) => {
    expect(second(change, share).currentA).toBeCloseTo(currentA, 9);
  });
  it.each([
    // Within 50 mV of 4.12 V and below 97 % of 120 A; warm cells are no taper.
    ['near the ceiling and held back', { cellMaxV: 4.08, allowedA: 116.3 }, true],
    ['beyond the ceiling and held back', { cellMaxV: 4.13, allowedA: 20 }, true],
    ['near and not held back', { cellMaxV: 4.08, allowedA: 116.5 }, false],
    ['held back far from the ceiling', { cellMaxV: 4.069, allowedA: 60 }, false],
    ['near and held by heat alone', { cellMaxV: 4.08, allowedA: 60, cellMaxC: 42.5 }, false],
    ['near, warm and held back beyond heat', { cellMaxV: 4.08, allowedA: 58, cellMaxC: 42.5 }, true],
  ])('tapers: %s', (_, change, tapers) => {
    const found = second(change);
    expect(found.tapers).toBe(tapers);
    expect(found.headroomV).toBeCloseTo(4.12 - change.cellMaxV, 9);
  });
  it('are those of batteries on the bus that were seen', () => {
    const seen = carrying(50, undefined, 50, 50).report();
    const of = (observed: typeof seen, rig = depot) =>
      raftLimits(observed, [0.25, 0.25, 0.25, 0.25], rig).map((l) => l.raft);
    expect(of(seen)).toEqual([0, 2, 3]);
    expect(of({ ...seen, rafts: [null, ...seen.rafts.slice(1)] })).toEqual([2, 3]);
    expect(of(new Scene(generatorYard).charging(100).report(), generatorYard)).toEqual([0, 1, 2]);
  });
  it('take a raft without a smoothed share for the whole', () => {
    expect(raftLimits(carrying(50, 50, 50, 50).report(), [], depot).map((l) => l.currentA)).toEqual([
      120, 120, 120, 120,
    ]);
  });
});
