/** What is gathered for the figures of a report: thinned in bounded memory without losing a spike. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Point } from '../../src/paper/chart.js';
import { Bursts } from '../../src/report/burst.js';
import { CloseUp } from '../../src/report/close-up.js';
import { Trace } from '../../src/report/trace.js';

/** Points of one span at most: first, least, greatest, last, and a gap; of at most 512 spans. */
const MOST_POINTS = 5 * 512;
const valuesOf = (points: readonly Point[]): number[] => points.flatMap(([, y]) => (y === null ? [] : [y]));

describe('a trace', () => {
  it('keeps a spike of one sample in a day of twenty a second, in bounded memory', () => {
    const trace = new Trace();
    const spikeMs = 43_217_350;
    for (let tMs = 0; tMs < 86_400_000; tMs += 50) trace.take(tMs, tMs === spikeMs ? 987 : 300);
    const points = trace.points();
    expect(points.length).toBeLessThanOrEqual(MOST_POINTS);
    expect(points.filter(([, y]) => y === 987)).toEqual([[spikeMs, 987]]);
  });
  it('keeps first, last, least and greatest of any readings, in the order of time', () => {
    const reading = fc.record({
      stepMs: fc.integer({ min: 1, max: 900 }),
      value: fc.double({ noNaN: true }),
    });
    const several = fc.array(reading, { minLength: 1, maxLength: 3000 });
    fc.assert(
      fc.property(several, (readings) => {
        const trace = new Trace();
        let tMs = 0;
        for (const { stepMs, value } of readings.filter((r) => Number.isFinite(r.value))) {
          tMs += stepMs;
          trace.take(tMs, value);
        }
        const taken = readings.map((r) => r.value).filter(Number.isFinite);
        if (taken.length === 0) return;
        const points = trace.points();
        const kept = valuesOf(points);
        expect(kept[0]).toBe(taken[0]);
        expect(kept.at(-1)).toBe(taken.at(-1));
        expect(Math.min(...kept)).toBe(Math.min(...taken));
        expect(Math.max(...kept)).toBe(Math.max(...taken));
        expect(points.every(([x], i) => i === 0 || x >= (points[i - 1] as Point)[0])).toBe(true);
      }),
      { numRuns: 60 },
    );
  });
  it('shows what the device saw between two reports', () => {
    const trace = new Trace();
    trace.take(0, 300, 299, 301);
    trace.take(50, 300, 120, 330);
    expect(valuesOf(trace.points())).toEqual(expect.arrayContaining([120, 330]));
  });
  it('breaks where nothing could be read, and where nothing came for more than a second', () => {
    const trace = new Trace();
    trace.take(0, 1);
    trace.take(100, Number.NaN);
    trace.take(200, 2);
    trace.take(1300, 3);
    expect(trace.points().map(([, y]) => y)).toEqual([1, null, 2, null, 3]);
  });
  it('draws an order on until it is known to be over, a reading only to where it was read', () => {
    const order = new Trace(true);
    order.take(0, 30);
    order.take(60_000, 300);
    expect(order.points(1, 90_000).at(-1)).toEqual([90_000, 300]);
    expect(order.points(1).some(([, y]) => y === null)).toBe(false);
    const reading = new Trace();
    reading.take(0, 30);
    expect(reading.points(1, 90_000)).toEqual([[0, 30]]);
  });
});

describe('a close-up', () => {
  it('has the seconds before and after a moment not known beforehand, from any length of session', () => {
    const near = new CloseUp();
    for (let tMs = 0; tMs <= 3_600_000; tMs += 50) near.take(tMs, tMs);
    near.mark(3_600_000);
    for (let tMs = 3_600_050; tMs <= 3_700_000; tMs += 50) near.take(tMs, tMs);
    const points = near.points();
    expect(points[0]).toEqual([-1.5, 3_598_500]);
    expect(points.at(-1)).toEqual([2.5, 3_602_500]);
    // 4 s at 20 a second, both ends included.
    expect(points).toHaveLength(81);
  });
  it('brings in what held when it began', () => {
    const order = new CloseUp(true);
    order.take(1000, 300);
    order.mark(60_000);
    order.take(60_000, Number.NaN);
    expect(order.points(70_000)).toEqual([
      [-1.5, 300],
      [0, null],
    ]);
  });
  it('keeps the first moment, and nothing without one', () => {
    const near = new CloseUp();
    near.take(0, 5);
    expect(near.points()).toEqual([]);
    near.mark(10);
    near.mark(9000);
    expect(near.points()).toEqual([[-0.01, 5]]);
  });
});

describe('bursts of pilot samples', () => {
  const line = (re: number, part: number, of: number, ua: string): string =>
    `<0123abcd 7 wave re:${re} part:${part},${of} dt:250000 ua:${ua}*00000000`;
  it('are put together from their parts; a part that was lost leaves its place empty', () => {
    const bursts = new Bursts();
    bursts.take(100, 0, line(0, 1, 3, '1000,-2000'));
    bursts.take(200, 0, line(0, 3, 3, '3000'));
    const { samplesA, spacingS, atTrip, parts, tMs } = bursts.burst!;
    expect(samplesA.map((a) => Math.round(a * 1e6))).toEqual([1000, -2000, Number.NaN, Number.NaN, 3000]);
    expect({ spacingS, atTrip, parts, tMs }).toEqual({
      spacingS: 250e-6,
      atTrip: true,
      parts: [2, 3],
      tMs: 100,
    });
  });
  it('sent at a trip stand before those asked for, earlier or later', () => {
    const bursts = new Bursts();
    bursts.take(0, 0, line(9, 1, 1, '1'));
    expect(bursts.burst?.atTrip).toBe(false);
    bursts.take(10, 0, line(0, 1, 1, '2'));
    bursts.take(20, 0, line(11, 1, 1, '3'));
    expect(bursts.burst?.samplesA).toEqual([2e-6]);
    expect(bursts.count).toBe(3);
  });
  it('of impossible numbers are left alone', () => {
    const bursts = new Bursts();
    for (const bad of [line(0, 0, 1, '1'), line(0, 2, 1, '1'), line(0, 1, 999999, '1'), 'wave', '']) {
      bursts.take(0, 0, bad);
    }
    expect(bursts.burst).toBeNull();
  });
});
