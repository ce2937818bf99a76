/** The straight line through figures over weeks, against published figures and by its definition. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { RigDrift } from '../../../src/fleet/drift.js';
import type { Session } from '../../../src/fleet/one.js';
import { MS_PER_WEEK, trendOf, weeksUntil } from '../../../src/fleet/trend.js';

const WALL_MS = Date.UTC(2031, 2, 3);
const wall = (week: number): number => WALL_MS + week * MS_PER_WEEK;

describe('a line through figures', () => {
  // F. J. Anscombe, Graphs in Statistical Analysis, The American Statistician 27 (1973), first set of four:
  // y = 3.0 + 0.500 x, standard error of the slope 0.118.
  const x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5];
  const y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
  const trend = trendOf(x.map(wall), y)!;
  it('has the published slope and error, whatever the order of the figures', () => {
    expect(trend.slopePerWeek).toBeCloseTo(0.5001, 4);
    expect(trend.slopeErrorPerWeek).toBeCloseTo(0.1179, 4);
    expect(trend).toMatchObject({ points: 11, weeks: 10, clear: true });
    expect(trend.now).toBeCloseTo(3.0001 + 0.50009 * 14, 3);
  });
  it('meets a limit when the line says so', () => {
    expect(weeksUntil(trend, 12)).toBeCloseTo((12 - trend.now) / 0.50009, 3);
    expect(weeksUntil(trend, trend.now)).toBe(0);
    expect(weeksUntil({ ...trend, slopePerWeek: -1 }, 12)).toBe(Number.POSITIVE_INFINITY);
    expect(weeksUntil({ ...trend, clear: false }, 12)).toBe(Number.POSITIVE_INFINITY);
  });
  it('says nothing of few figures, or of a few days', () => {
    expect(trendOf([0, 1, 2].map(wall), [1, 2, 3])).toBeNull();
    expect(trendOf([0, 0.2, 0.4, 0.9].map(wall), [1, 2, 3, 4])).toBeNull();
    expect(trendOf([], [])).toBeNull();
  });
  it('sees no trend in figures that stand still, nor in their rounding', () => {
    expect(trendOf([0, 1, 2, 3, 4].map(wall), [0, 0, 0, 0, 0])?.clear).toBe(false);
    expect(trendOf([0, 1, 2, 3, 4].map(wall), [0.1 + 0.2, 0.3, 0.3, 0.3, 0.3])?.clear).toBe(false);
  });
  it('takes scatter for a trend about once in a hundred times, as the test it uses promises', () => {
    const random = new SeededRandom(9);
    const RUNS = 4000;
    let taken = 0;
    for (let k = 0; k < RUNS; k++) {
      const values = Array.from({ length: 8 }, () => 5 + random.gaussian());
      if (
        trendOf(
          values.map((_, week) => wall(week)),
          values,
        )?.clear === true
      )
        taken++;
    }
    // 40 expected; five standard deviations of a binomial to both sides.
    expect(taken).toBeGreaterThan(8);
    expect(taken).toBeLessThan(72);
  });
});

describe('the early warning of a rig', () => {
  const session = (week: number, leakageUs: number, rehearsal = false): Session => ({
    rig: 'yard',
    rigHash: '',
    head: '',
    wallMs: wall(week),
    rehearsal,
    outcome: 'released',
    trip: null,
    refusals: [],
    toldKwh: 0,
    toBatteryKwh: 0,
    fromSupplyKwh: 0,
    figures: {
      loopSeriesOhm: null,
      loopLeakageUs: leakageUs,
      isolationChargerOhm: 1e6 / leakageUs,
      isolationCableOhm: null,
    },
    limits: { loopSeriesOhm: null, loopLeakageUs: 100, isolationOhm: 10_000 },
    near: [],
  });
  const driftOf = (sessions: readonly Session[], within = 26) => {
    const rig = new RigDrift('yard');
    for (const s of sessions) rig.add(s);
    return rig.drifts(within);
  };
  const rising = [0, 1, 2, 3, 4].map((week) => session(week, 10 + 5 * week));
  it('is given for each figure that would meet its limit, and says that it is an extrapolation', () => {
    const drifts = driftOf(rising);
    expect(drifts.map(({ figure, limit }) => [figure, limit])).toEqual([
      ['loopLeakage', 100],
      ['isolationCharger', 100],
    ]);
    for (const { weeksToLimit, warning } of drifts) {
      // 30 µS now, 5 µS a week, 100 µS at most.
      expect(weeksToLimit).toBeCloseTo(14, 6);
      expect(warning).toMatch(/about 14 weeks/);
      expect(warning).toMatch(/extrapolation/);
    }
  });
  it('is not given for what lies further off than asked', () => {
    expect(driftOf(rising, 13).map(({ warning }) => warning)).toEqual([null, null]);
    expect(driftOf(rising, 14.1).every(({ warning }) => warning !== null)).toBe(true);
  });
  it('is not given when a leak gets smaller', () => {
    const falling = [0, 1, 2, 3, 4].map((week) => session(week, 50 - 5 * week));
    expect(driftOf(falling).map(({ weeksToLimit }) => weeksToLimit)).toEqual([null, null]);
  });
  it('leaves rehearsals out where there are real sessions: their times are invented', () => {
    const rehearsals = [0, 1, 2, 3, 4].map((week) => session(week, 90 - 20 * week, true));
    expect(driftOf([...rehearsals, ...rising])[0]?.values).toEqual([10, 15, 20, 25, 30]);
    expect(driftOf(rehearsals)[0]?.values).toEqual([90, 70, 50, 30, 10]);
  });
});
