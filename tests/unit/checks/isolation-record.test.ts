/** Recordings of pole volts made ready: signs, stretches, points, the volts between the poles and their steps. */
import { describe, expect, it } from 'vitest';
import { median, prepare, type ResistorAt } from '../../../src/checks/isolation-record.js';

/** One row a second unless said otherwise, the resistor on no pole. */
function recording(
  positiveV: readonly number[],
  negativeV: readonly number[],
  more: { timeS?: readonly number[]; resistor?: readonly ResistorAt[] } = {},
) {
  return {
    timeS: more.timeS ?? positiveV.map((_, k) => k),
    positiveV,
    negativeV,
    resistor: more.resistor ?? positiveV.map(() => 'none' as const),
  };
}
const repeat = (times: number, ...values: number[]): number[] =>
  Array.from({ length: times }, () => values).flat();

describe('the median', () => {
  it.each([
    [[3, 1, 2], 2],
    [[10, 9, 1, 2], 9],
    [[100, 20, 3], 20],
    [[5], 5],
    [[], Number.NaN],
  ])('of %j is %d', (values, expected) => {
    expect(median(values)).toBe(expected);
  });
  it('of more than 5000 rows is that of every so many, the first among them', () => {
    // 12,000 rows: every third. The others would have it at 1000.
    const long = Array.from({ length: 12_000 }, (_, k) => (k % 3 === 0 ? 7 : 1000));
    expect(median(long)).toBe(7);
    // 5000 rows are looked at one by one: two in three are 1000.
    expect(median(long.slice(0, 5000))).toBe(1000);
    // 5001 rows: every second, the last one among them, so 2501 of which 2500 alternate.
    const alternating = Array.from({ length: 5001 }, (_, k) => (k === 5000 ? 9 : k % 4 === 0 ? 8 : 10));
    expect(median(alternating)).toBe(9);
  });
});

describe('the sign of the negative pole', () => {
  const swinging = [300, 320, 340, 360, 380, 400];
  it.each([
    { is: 'chassis against it', negativeV: swinging.map((v) => 750 - v), sign: 1 },
    { is: 'it against chassis', negativeV: swinging.map((v) => v - 750), sign: -1 },
    // A pole beyond chassis: the movement counts, not the sign.
    { is: 'chassis against it, below zero', negativeV: swinging.map((v) => 250 - v), sign: 1 },
    { is: 'it against chassis, above zero', negativeV: swinging.map((v) => v - 250), sign: -1 },
  ])('is told by the movement: $is', ({ negativeV, sign }) => {
    const found = prepare(recording(swinging, negativeV));
    expect(found.negativeSign).toBe(sign);
    expect([...found.negativeV]).toEqual(negativeV.map((v) => sign * v));
  });
  it.each([
    [375, -375, -1],
    [375, 375, 1],
    [-375, 375, -1],
    [-375, -375, 1],
    [375, 0, 1],
  ])('of poles that never moved is told by their signs: %d and %d V', (positiveV, negativeV, sign) => {
    expect(prepare(recording(repeat(6, positiveV), repeat(6, negativeV))).negativeSign).toBe(sign);
  });
  it('is told by the movement only where one way is twice as steady as the other', () => {
    // The negative pole moves against the positive one by this share: (1 − s) ÷ (1 + s) is the ratio.
    const moved = (share: number, atV: number) =>
      prepare(recording(repeat(9, 299, 300, 301), repeat(9, atV + share, atV, atV - share))).negativeSign;
    expect(moved(0.4, -450)).toBe(1);
    expect(moved(0.3, -450)).toBe(-1);
    expect(moved(-0.4, 450)).toBe(-1);
    expect(moved(-0.3, 450)).toBe(1);
  });
});

describe('stretches and points', () => {
  it('are runs of one position, every row a point of its own', () => {
    const resistor = ['none', 'none', 'pos', 'neg', 'neg', 'neg', 'pos'] as const;
    const positiveV = [1, 2, 3, 4, 5, 6, 7];
    const found = prepare(recording(positiveV, [9, 8, 7, 6, 5, 4, 3], { resistor }));
    expect(found.stretches).toEqual([
      { at: 'none', from: 0, to: 2 },
      { at: 'pos', from: 2, to: 3 },
      { at: 'neg', from: 3, to: 6 },
      { at: 'pos', from: 6, to: 7 },
    ]);
    expect([...found.positiveV]).toEqual(positiveV);
    expect([...found.timeS]).toEqual([0, 1, 2, 3, 4, 5, 6]);
    expect([...found.rows]).toEqual([1, 1, 1, 1, 1, 1, 1]);
  });
  it('of 3000 rows are not put together', () => {
    const found = prepare(recording(repeat(3000, 300), repeat(3000, 450)));
    expect(found.timeS.length).toBe(3000);
  });
  it('of more than 3000 rows are as long as 0.4 % of the time since the switching', () => {
    const rows = 3001;
    const switchedAt = 2000;
    const resistor = Array.from({ length: rows }, (_, k) => (k < switchedAt ? 'pos' : 'neg') as ResistorAt);
    // Clock and volts begin anywhere; a row a second.
    const timeS = Array.from({ length: rows }, (_, k) => 5000 + k);
    const positiveV = Array.from({ length: rows }, (_, k) => 100 + 0.1 * k);
    const negativeV = positiveV.map((v) => v - 750);
    const found = prepare(recording(positiveV, negativeV, { timeS, resistor }));
    const [first, second] = found.stretches;
    expect(found.stretches.length).toBe(2);
    expect([first?.from, first?.to, second?.from, second?.to]).toEqual([
      0,
      second?.from,
      first?.to,
      found.timeS.length,
    ]);
    for (const [stretch, from, to] of [
      [first!, 0, switchedAt],
      [second!, switchedAt, rows],
    ] as const) {
      let row = from;
      for (let k = stretch.from; k < stretch.to; k++) {
        const count = Math.min(to - row, Math.max(1, Math.ceil((row - from) / 250)));
        expect(found.rows[k]).toBe(count);
        const middle = row + (count - 1) / 2;
        expect(found.timeS[k]).toBeCloseTo(5000 + middle, 9);
        expect(found.positiveV[k]).toBeCloseTo(100 + 0.1 * middle, 9);
        expect(found.negativeV[k]).toBeCloseTo(650 - 0.1 * middle, 9);
        row += count;
      }
      expect(row).toBe(to);
    }
  });
});

describe('volts from pole to pole', () => {
  it('that stand still are a straight line through all rows', () => {
    // Sums over t = 0 to 3 of 750, 752, 749, 753: slope Σ(t − 1.5)(v − 751) ÷ 5 = 0.6.
    const between = [750, 752, 749, 753];
    const found = prepare(
      recording(
        [300, 300, 300, 300],
        between.map((v) => v - 300),
      ),
    );
    expect(found.moves).toBe(false);
    [750.1, 750.7, 751.3, 751.9].forEach((v, k) => {
      expect(found.bothV[k]).toBeCloseTo(v, 9);
    });
    expect(found.usualV).toBe(752);
  });
  it('of rows all at one time are their mean', () => {
    const found = prepare(recording([300, 300, 300], [450, 451, 452], { timeS: [4, 4, 4] }));
    expect([...found.bothV]).toEqual([751, 751, 751]);
  });
  it('that move by more than 2 % are the median of five neighbours: steps stay, spikes go', () => {
    const between = [700, 700, 700, 900, 700, 700, 750, 750, 750, 750, 100, 50, 750, 760];
    const found = prepare(
      recording(
        between.map((v) => v - 300),
        repeat(between.length, 300),
      ),
    );
    expect(found.moves).toBe(true);
    expect([...found.bothV]).toEqual([700, 700, 700, 700, 700, 750, 750, 750, 750, 750, 750, 750, 750, 750]);
  });
  it('count in digits by their size, not as words', () => {
    const between = [90, 90, 1000, 1000, 1000, 90, 90];
    const found = prepare(
      recording(
        repeat(7, 50),
        between.map((v) => v - 50),
      ),
    );
    expect([...found.bothV]).toEqual([90, 1000, 1000, 1000, 1000, 1000, 90]);
  });
  it.each([
    { toV: 764, moves: false },
    { toV: 765, moves: false },
    { toV: 765.1, moves: true },
    { toV: 735, moves: false },
    { toV: 734.9, moves: true },
  ])('from 750 to $toV V move: $moves', ({ toV, moves }) => {
    const between = [...repeat(12, 750), ...repeat(6, toV)];
    expect(
      prepare(
        recording(
          repeat(18, 300),
          between.map((v) => v - 300),
        ),
      ).moves,
    ).toBe(moves);
    const turned = prepare(
      recording(
        repeat(18, -300),
        between.map((v) => 300 - v),
      ),
    );
    expect([turned.moves, turned.usualV]).toEqual([moves, -750]);
  });
  it('do not move by a spike', () => {
    const between = [...repeat(9, 750), 900, ...repeat(9, 750)];
    expect(
      prepare(
        recording(
          repeat(19, 300),
          between.map((v) => v - 300),
        ),
      ).moves,
    ).toBe(false);
  });
});

describe('the step of the figures', () => {
  const stepOf = (positiveV: readonly number[], negativeV = positiveV.map(() => 0)) =>
    prepare(recording(positiveV, negativeV)).resolutionV;
  it.each([
    { is: 'six steps of a converter, from anywhere', values: [0.1, 0.35, 0.6, 0.85, 1.35, 2.1], step: 0.25 },
    { is: 'in any order, each often', values: repeat(4, 2.1, 0.1, 1.35, 0.35, 0.6, 0.85), step: 0.25 },
    { is: 'below zero', values: [-300.1, -299.85, -299.6, -299.35, -299.1, -298.85], step: 0.25 },
    { is: 'wide ones', values: [3, 10, 17, 24, 31, 45], step: 7 },
    { is: 'five steps: too few, so the last digit', values: [0.1, 0.35, 0.6, 0.85, 1.35], step: 0.01 },
    { is: 'whole volts', values: [300, 302], step: 1 },
    { is: 'a volt apart: tenths are the most that can be told', values: [300, 301], step: 0.1 },
    { is: 'tenths', values: [300.1, 450.2], step: 0.1 },
    { is: 'hundredths', values: [300.12, 450.2], step: 0.01 },
    { is: 'thousandths', values: [300.123, 450.2], step: 0.001 },
    { is: 'ten-thousandths', values: [300.1234, 450.2], step: 0.0001 },
    { is: 'finer digits', values: [300.12343, 450.2], step: 0 },
    { is: 'no step', values: [Math.PI, Math.E, Math.SQRT2, Math.LN10, Math.LN2, 300 * Math.PI], step: 0 },
    { is: 'one value', values: [300.12, 300.12], step: 0 },
    {
      is: 'steps worn by sums of floats',
      values: [0.1, 0.35, 0.6, 0.85, 1.1, 1.35, 1.35 + 1e-9],
      step: 0.25,
    },
    { is: 'steps within 2 %', values: [0, 0.5, 1, 1.5, 2, 2.509], step: 0.5 },
    { is: 'steps beyond it', values: [0, 0.5, 1, 1.5, 2, 2.511], step: 0.001 },
  ])('$is: $step V', ({ values, step }) => {
    expect(stepOf(values)).toBeCloseTo(step, 12);
  });
  it('is the coarser of both poles', () => {
    expect(stepOf([300.12, 450.2], [300, 302])).toBe(1);
    expect(stepOf([300, 302], [300.12, 450.2])).toBe(1);
  });
});
