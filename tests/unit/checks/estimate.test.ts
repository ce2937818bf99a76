/** Figures with bounds: ends worked out by hand. */
import { describe, expect, it } from 'vitest';
import {
  asEstimate,
  evenly,
  logarithmic,
  lower,
  part,
  reciprocal,
  scaled,
} from '../../../src/checks/estimate.js';

const INF = Number.POSITIVE_INFINITY;
const all = (value: number, uncertainty: number, atLeast: number, atMost: number) => ({
  value,
  uncertainty,
  atLeast,
  atMost,
});

describe('bounds', () => {
  it('give the farther end as the uncertainty, and none where the upper end is open', () => {
    expect(asEstimate(10, 7, 11)).toEqual(all(10, 3, 7, 11));
    expect(asEstimate(10, 9, 14)).toEqual(all(10, 4, 9, 14));
    expect(asEstimate(10, 7, INF)).toEqual(all(10, INF, 7, INF));
    expect(asEstimate(INF, 7, INF)).toEqual(all(INF, INF, 7, INF));
    expect(asEstimate(Number.NaN, 0, 5).uncertainty).toBeNaN();
  });
  it('lie the same to both sides', () => {
    expect(evenly(20, 3)).toEqual(all(20, 3, 17, 23));
  });
  it('of a logarithm lie by the same factor to both sides', () => {
    const found = logarithmic(20, Math.log(2));
    expect(found.atLeast).toBeCloseTo(10, 12);
    expect(found.atMost).toBeCloseTo(40, 12);
    expect(found.uncertainty).toBeCloseTo(20, 12);
    expect(found.value).toBe(20);
  });
});

describe('a conductance', () => {
  it.each([
    // 10 µS ± 2 µS: 83.3 kΩ to 125 kΩ.
    { siemens: 10e-6, offS: 2e-6, value: 1e5, atLeast: 1 / 12e-6, atMost: 1 / 8e-6 },
    { siemens: 2e-6, offS: 2e-6, value: 5e5, atLeast: 2.5e5, atMost: INF },
    { siemens: 1e-6, offS: 4e-6, value: 1e6, atLeast: 2e5, atMost: INF },
    // Below nothing: no leak seen, at least what the uncertainty leaves.
    { siemens: -1e-6, offS: 4e-6, value: INF, atLeast: 2.5e5, atMost: INF },
    { siemens: 0, offS: 4e-6, value: INF, atLeast: 2.5e5, atMost: INF },
    { siemens: 1e-6, offS: INF, value: 1e6, atLeast: 0, atMost: INF },
    { siemens: 1e-6, offS: Number.NaN, value: 1e6, atLeast: 0, atMost: INF },
  ])('of $siemens S ± $offS S', ({ siemens, offS, value, atLeast, atMost }) => {
    const found = reciprocal(siemens, offS);
    expect(found.value).toBeCloseTo(value, 6);
    expect(found.atLeast).toBeCloseTo(atLeast, 6);
    expect(found.atMost).toBeCloseTo(atMost, 6);
  });
});

describe('reckoning', () => {
  const total = asEstimate(10, 8, 13);
  it('a share of a total is off by both', () => {
    expect(part(total, 0.25, 0.05)).toEqual(all(2.5, 1.4, 1.6, expect.closeTo(3.9, 9)));
    // No part is less than nothing or more than all.
    expect(part(total, 0.25, 0.5)).toEqual(all(2.5, 7.25, 0, 9.75));
    expect(part(total, 0.75, 0.5)).toEqual(all(7.5, 5.5, 2, 13));
  });
  it('the lower of two has the lower of each end', () => {
    expect(lower(total, asEstimate(11, 5, 12))).toEqual(all(10, 5, 5, 12));
    expect(lower(asEstimate(11, 5, 12), total)).toEqual(all(10, 5, 5, 12));
  });
  it('all four figures scale', () => {
    expect(scaled(total, 0.5)).toEqual(all(5, 1.5, 4, 6.5));
  });
});
