/** When a pair of pole volts counts as at rest, and how fast it came there: exponentials and steps written here. */
import { describe, expect, it } from 'vitest';
import {
  addPair,
  type PolePair,
  type Settling,
  settledPair,
  settlingMs,
} from '../../../src/checks/settle.js';

const pair = (tMs: number, positiveV: number, negativeV = 750 - positiveV): PolePair => ({
  tMs,
  positiveV,
  negativeV,
});
const RULE = { leastMs: 200, spanMs: 150, samples: 4, share: 0.01, floorV: 0.5 };
/** One sample every 50 ms, from 0. */
const every50 = (...volts: number[]): Settling => volts.map((v, k) => pair(50 * k, v));

describe('the window', () => {
  it('holds the newest 64 pairs in order', () => {
    let window: Settling = [];
    for (let k = 0; k < 64; k++) window = addPair(window, pair(k, k));
    expect(window.map((p) => p.tMs)).toEqual(Array.from({ length: 64 }, (_, k) => k));
    window = addPair(window, pair(64, 64));
    expect(window.map((p) => p.tMs)).toEqual(Array.from({ length: 64 }, (_, k) => k + 1));
  });
});

describe('rest', () => {
  it('is the mean over the trailing span, at the time of the newest sample', () => {
    // The first sample lies outside the trailing 150 ms.
    const found = settledPair(every50(700, 300, 301, 302, 303), RULE);
    expect(found).toEqual({ tMs: 200, positiveV: 301.5, negativeV: 448.5 });
  });
  it('needs the least time since the first sample, to the millisecond', () => {
    const window = every50(300, 300, 300, 300, 300);
    expect(settledPair(window, RULE)).not.toBeNull();
    expect(settledPair(window, { ...RULE, leastMs: 201 })).toBeNull();
  });
  it('needs its samples within the span, both ends of it counted', () => {
    const window = every50(300, 300, 300, 300, 300);
    expect(settledPair(window, { ...RULE, spanMs: 149 })).toBeNull();
    expect(settledPair(window, { ...RULE, samples: 5 })).toBeNull();
    expect(settledPair(window, { ...RULE, samples: 5, spanMs: 200 })).not.toBeNull();
  });
  it.each([
    // Mean 300 and 450 V: 1 % of the greater is 4.5 V.
    { is: 'the share of the greater pole', offV: 4.5, quiet: true },
    { is: 'beyond it', offV: 4.6, quiet: false },
  ])('$is: $quiet', ({ offV, quiet }) => {
    const window = every50(300, 300 + offV, 300 - offV, 300 + offV, 300 - offV);
    expect(settledPair(window, RULE) !== null).toBe(quiet);
    const negativeOnly = window.map(({ tMs, positiveV }) => pair(tMs, 300, 750 - positiveV));
    expect(settledPair(negativeOnly, RULE) !== null).toBe(quiet);
  });
  it('of small volts is within the floor', () => {
    const around = (offV: number) => [0, 1, -1, 1, -1].map((sign, k) => pair(50 * k, 10 + sign * offV, 10));
    expect(settledPair(around(0.5), RULE)).not.toBeNull();
    expect(settledPair(around(0.51), RULE)).toBeNull();
  });
  it('counts volts below chassis by their size', () => {
    const window = [0, 1, -1, 1, -1].map((sign, k) => pair(50 * k, -300 + sign * 4.4, -450));
    expect(settledPair(window, RULE)).not.toBeNull();
  });
  it.each([
    ['no sample', []],
    ['an unreadable pole', every50(300, 300, Number.NaN, 300, 300)],
  ] as const)('is not told from %s', (_, window) => {
    expect(settledPair(window, RULE)).toBeNull();
  });
});

describe('the time constant', () => {
  const rest = pair(1000, 300);
  /** The positive pole falls from 600 V to 300 V with this time constant, sampled every 50 ms from `firstMs`. */
  const approach = (tauMs: number, count = 20, firstMs = 50): Settling =>
    Array.from({ length: count }, (_, k) => {
      const tMs = firstMs + 50 * k;
      return pair(tMs, 300 + 300 * Math.exp(-tMs / tauMs));
    });

  it.each([40, 100, 400])('of %d ms is read off what is left at two samples', (tauMs) => {
    expect(settlingMs(approach(tauMs), rest, 0, 300)).toBeCloseTo(tauMs, 6);
    // The clock of the samples may begin anywhere, and the swing go either way.
    const later = approach(tauMs).map((p) => pair(p.tMs + 7000, 600 - p.positiveV));
    expect(settlingMs(later, rest, 7000, 300)).toBeCloseTo(tauMs, 6);
  });
  it('pays no heed to what is left within the noise of 3 V (0.4 % of 750 V)', () => {
    const noisy = approach(60).map((p) =>
      p.positiveV - 300 > 3 ? p : pair(p.tMs, 300 + (p.tMs % 100 === 0 ? 2.9 : -2.9)),
    );
    expect(settlingMs(noisy, rest, 0, 300)).toBeCloseTo(60, 6);
  });
  it('of small volts is read down to 0.2 V', () => {
    const small = (v: number, tMs: number) => pair(tMs, 10 + v, 10);
    const window = [small(4, 50), small(1, 100), small(0.25, 150), small(0.19, 200), small(0.19, 250)];
    // Down by four every 50 ms.
    expect(settlingMs(window, pair(250, 10, 10), 0, 16)).toBeCloseTo(50 / Math.log(4), 9);
  });
  it('of an approach over before two samples caught it is at most what the first tells', () => {
    // 30 V of 300 V left 50 ms after the switch.
    const one = [pair(50, 330), pair(100, 300), pair(150, 300)];
    expect(settlingMs(one, rest, 0, 300)).toBeCloseTo(50 / Math.log(10), 9);
    // Nothing left: the noise of 3 V is all that may have been.
    const none = [pair(50, 300), pair(100, 300)];
    expect(settlingMs(none, rest, 0, 300)).toBeCloseTo(50 / Math.log(100), 9);
  });
  it('is taken from the first and the last that stand clear, and not from two of one instant', () => {
    const crooked = [pair(50, 500), pair(100, 450), pair(150, 440), pair(200, 350)];
    expect(settlingMs(crooked, rest, 0, 300)).toBeCloseTo(150 / Math.log(4), 9);
    // A clock that stood still: only what the first tells is left, 100 V of 300 V after 50 ms.
    const standing = [pair(50, 400), pair(50, 340)];
    expect(settlingMs(standing, rest, 0, 300)).toBeCloseTo(50 / Math.log(3), 9);
  });
  it('is taken from two samples only where a fifth has gone between them', () => {
    const window = (laterV: number) => [pair(50, 400), pair(100, 300 + laterV)];
    expect(settlingMs(window(79), rest, 0, 300)).toBeCloseTo(50 / Math.log(100 / 79), 9);
    expect(settlingMs(window(81), rest, 0, 300)).toBeCloseTo(50 / Math.log(3), 9);
    expect(settlingMs(window(80), rest, 0, 300)).toBeCloseTo(50 / Math.log(3), 9);
  });
  it.each([
    { is: 'no sample', window: [], switchedMs: 0, fromV: 300 },
    { is: 'a sample at the very instant of switching', window: [pair(50, 330)], switchedMs: 50, fromV: 300 },
    { is: 'one from before it', window: [pair(50, 330)], switchedMs: 60, fromV: 300 },
    { is: 'more left than there was', window: [pair(50, 330)], switchedMs: 0, fromV: 29 },
    { is: 'as much left as there was', window: [pair(50, 330)], switchedMs: 0, fromV: 30 },
  ])('is not told from $is', ({ window, switchedMs, fromV }) => {
    expect(settlingMs(window, rest, switchedMs, fromV)).toBeNaN();
  });
});
