import { describe, expect, it } from 'vitest';
import {
  type ChargeRecord,
  chargeStretch,
  countedAh,
  median,
  restedRows,
  stepOhm,
  thinned,
} from '../../../src/measure/charge-record.js';
import { PLAIN, recordOf } from './synthetic-cell.js';

const of = (rows: readonly (readonly [number, number, number])[]): ChargeRecord => ({
  timeS: Float64Array.from(rows, (r) => r[0]),
  currentA: Float64Array.from(rows, (r) => r[1]),
  voltageV: Float64Array.from(rows, (r) => r[2]),
});

/** Rest, 10 A to 4.2 V, taper to 1 A, rest. */
const CCCV = of([
  [0, 0, 3.4],
  [0, 10, 3.5],
  [1000, 10, 3.9],
  [2000, 10, 4.19],
  [2060, 9, 4.2],
  [2120, 6, 4.2],
  [2180, 3, 4.2],
  [2240, 1, 4.2],
  [2241, 0, 4.19],
  [3000, 0, 4.18],
]);

describe('a recorded charge', () => {
  it('counts straight between rows, and a step from its beginning', () => {
    const counted = countedAh(CCCV);
    expect(counted[3]! * 3600).toBeCloseTo(20_000, 6);
    // 10 to 9 A is no step, 9 to 6 A is: it lies at the beginning.
    expect(counted[4]! * 3600).toBeCloseTo(20_000 + 9.5 * 60, 6);
    expect(counted[5]! * 3600).toBeCloseTo(20_000 + 9.5 * 60 + 6 * 60, 6);
  });
  it('finds the constant current, the voltage held and the end', () => {
    const found = chargeStretch(CCCV);
    expect(found).toMatchObject({ firstRow: 1, lastRow: 7, constantA: 10, limitV: 4.2, endA: 1, startS: 0 });
    expect(found?.ccTimeS).toBeGreaterThan(2000);
    expect(found?.ccTimeS).toBeLessThan(2060);
  });
  it('finds none where nothing charges, or no voltage is held', () => {
    expect(
      chargeStretch(
        of([
          [0, -5, 4],
          [10, -5, 3.9],
          [20, 0, 3.95],
        ]),
      ),
    ).toBeNull();
    expect(chargeStretch(recordOf(PLAIN, 0.2, [[5, 3600]]))).toBeNull();
  });
  it('reads a resistance off steps, but not off one whose volts had not moved yet', () => {
    const record = of([
      [0, 0, 3.5],
      [0.1, 10, 3.7],
      [100, 10, 3.8],
      [100.1, 0, 3.799],
      [200, 0, 3.6],
    ]);
    expect(stepOhm(record)).toBeCloseTo(0.02, 9);
    expect(stepOhm(recordOf(PLAIN, 0.2, [[5, 3600]]))).toBeNaN();
  });
  it('knows where the cell had rested', () => {
    // The first row, whatever came before it, and the end of each long rest.
    const rested = restedRows(
      of([
        [0, 0, 3.5],
        [0, 5, 3.6],
        [100, 5, 3.7],
        [101, 0, 3.6],
        [200, 0, 3.6],
        [201, 5, 3.7],
        [300, 0, 3.7],
        [1000, 0, 3.6],
      ]),
    );
    expect(rested).toEqual([0, 7]);
  });
  it('keeps the ends, the steps and their surroundings when it is thinned', () => {
    const whole = recordOf(
      PLAIN,
      0.2,
      [
        [0, 600],
        [5, 3600],
        [0, 600],
      ],
      0.5,
    );
    const thin = thinned(whole, 500);
    expect(thin.timeS.length).toBeLessThan(500);
    expect(thin.timeS[0]).toBe(0);
    expect(thin.timeS.at(-1)).toBe(4800);
    expect(stepOhm(thin)).toBeCloseTo(0.02, 9);
    expect(countedAh(thin).at(-1)).toBeCloseTo(5, 6);
    expect(thinned(thin, 500)).toBe(thin);
  });
  it('takes the middle', () => {
    expect(median([3, 1, 2])).toBe(2);
    expect(median([4, 1, 2, 3])).toBe(2.5);
    expect(median([])).toBeNaN();
  });
});
