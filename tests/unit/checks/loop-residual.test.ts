/** What a fit leaves over: figures of residuals laid out by hand. */
import { describe, expect, it } from 'vitest';
import { interrupted, systematic } from '../../../src/checks/loop-residual.js';

const BINS = 24;
/** One sample in each of the first `bins` twenty-fourths of a period, for so many periods. */
function times(periods: number, { hertz = 1, bins = BINS, fromS = 0 } = {}): Float64Array {
  return Float64Array.from(
    { length: periods * bins },
    (_, k) => fromS + (Math.floor(k / bins) + ((k % bins) + 0.5) / BINS) / hertz,
  );
}
const constant = (n: number, value: number) => new Float64Array(n).fill(value);

describe('in step with the pilot', () => {
  it.each([
    // Two in each of 24 places sum to 2r, squared over two: 48 r² against 24 + 5·√48 = 58.6.
    { r: Math.sqrt(1.2), variance: 1, misfitA: 0 },
    { r: Math.sqrt(1.25), variance: 60 / 24, misfitA: Math.sqrt(36 / 48) },
    { r: 3, variance: 432 / 24, misfitA: Math.sqrt(408 / 48) },
  ])('the same residual of $r deviations each period', ({ r, variance, misfitA }) => {
    for (const [noiseA, hertz, fromS] of [
      [1, 1, 0],
      [2e-5, 80, 0],
      [2e-5, 80, -7 / 80],
      [1, 1, 5],
    ] as const) {
      const timeS = times(2, { hertz, fromS });
      const found = systematic(timeS, { residualA: constant(48, r * noiseA), noiseA }, hertz);
      expect(found.variance).toBeCloseTo(variance, 9);
      expect(found.misfitA / noiseA).toBeCloseTo(misfitA, 9);
    }
  });
  it('counts only places that have samples', () => {
    // Six places with four samples each: 24 r² against 6 + 5·√12 = 23.3.
    const timeS = times(4, { bins: 6 });
    const none = systematic(timeS, { residualA: constant(24, Math.sqrt(0.95)), noiseA: 1 }, 1);
    expect(none).toEqual({ variance: 1, misfitA: 0 });
    const some = systematic(timeS, { residualA: constant(24, 1), noiseA: 1 }, 1);
    expect(some.variance).toBeCloseTo(4, 9);
    expect(some.misfitA).toBeCloseTo(Math.sqrt(18 / 24), 9);
  });
  it('is nothing that turns its sign from period to period, however large', () => {
    const residualA = Float64Array.from({ length: 48 }, (_, k) => (k < 24 ? 9 : -9));
    expect(systematic(times(2), { residualA, noiseA: 1 }, 1)).toEqual({ variance: 1, misfitA: 0 });
  });
  it('is told apart by the twenty-fourth of the period', () => {
    // Plus in even places and minus in odd ones: seen; shifted by one place in the second period: gone.
    const sign = (k: number) => (k % 2 === 0 ? 2 : -2);
    const inStep = Float64Array.from({ length: 48 }, (_, k) => sign(k % 24));
    expect(systematic(times(2), { residualA: inStep, noiseA: 1 }, 1).variance).toBeCloseTo(8, 9);
    // Late in the last place is still in it.
    const late = times(2).map((t) => t + 0.49 / BINS);
    expect(systematic(late, { residualA: inStep, noiseA: 1 }, 1).variance).toBeCloseTo(8, 9);
    const shifted = Float64Array.from({ length: 48 }, (_, k) => (k < 24 ? sign(k) : sign(k + 1)));
    expect(systematic(times(2), { residualA: shifted, noiseA: 1 }, 1).variance).toBe(1);
  });
});

describe('jumps', () => {
  const timeS = Float64Array.from({ length: 101 }, (_, k) => k / 1000);
  /** A calm residual of this size, and these rows of another. */
  const jumping = (calmA: number, jumpA: number, rows: readonly number[]) =>
    Float64Array.from(timeS, (_, k) => (rows.includes(k) ? jumpA : k % 2 === 0 ? calmA : -calmA));
  it.each([
    { is: 'three', rows: [40, 41, 90], first: 0.04 },
    { is: 'two', rows: [40, 90], first: null },
    { is: 'many', rows: [7, 8, 9, 10, 11], first: 0.007 },
    { is: 'none', rows: [], first: null },
  ])('$is', ({ rows, first }) => {
    expect(interrupted(timeS, jumping(1e-5, 5e-3, rows), 16e-3)).toBe(first);
    expect(interrupted(timeS, jumping(1e-5, -5e-3, rows), 16e-3)).toBe(first);
  });
  it.each([
    // A tenth of the peak of 16 mA where the noise is small.
    { calmA: 1e-5, jumpA: 1.6e-3, jumps: false },
    { calmA: 1e-5, jumpA: 1.61e-3, jumps: true },
    // Six deviations of 1.4826 medians where it is not: 8.8956 mA of 1 mA.
    { calmA: 1e-3, jumpA: 8.89e-3, jumps: false },
    { calmA: 1e-3, jumpA: 8.9e-3, jumps: true },
  ])('of $jumpA A beside $calmA A: $jumps', ({ calmA, jumpA, jumps }) => {
    expect(interrupted(timeS, jumping(calmA, jumpA, [30, 31, 32]), 16e-3)).toBe(jumps ? 0.03 : null);
  });
  it('are held against the median, wherever the calm rows lie', () => {
    // Rows of 1 mA at both ends and in the middle, of 10 µA elsewhere: the median is 10 µA.
    const x = Float64Array.from(timeS, (_, k) => (k % 10 === 0 || k === 50 ? 1e-3 : 1e-5));
    for (const k of [51, 52, 53]) x[k] = 2e-3;
    expect(interrupted(timeS, x, 16e-3)).toBe(0.051);
  });
  it('are not told from an unreadable residual, nor from none', () => {
    expect(interrupted(timeS, jumping(1e-5, Number.NaN, [1, 2, 3, 4]), 16e-3)).toBeNull();
    expect(interrupted(new Float64Array(0), new Float64Array(0), 16e-3)).toBeNull();
  });
});
