/** The solver against lines solved by hand, exponentials written here, and Student's table. */
import { describe, expect, it } from 'vitest';
import { joined, leastSquares, type Problem, student95 } from '../../../src/checks/least-squares.js';

const OPEN = { low: [-1e9, -1e9], high: [1e9, 1e9] };
/** y = a + b·x through these points, each with deviation 1. */
function line(x: readonly number[], y: readonly number[], more: Partial<Problem> = {}): Problem {
  return {
    residuals: (q) => Float64Array.from(x, (each, k) => q[0]! + q[1]! * each - y[k]!),
    steps: [1e-3, 1e-3],
    ...OPEN,
    ...more,
  };
}

describe('a straight line', () => {
  // Sums of 1, x, x², y, xy over (0,1) (1,3) (2,2) (3,5): 4, 6, 14, 11, 22.
  const x = [0, 1, 2, 3];
  const y = [1, 3, 2, 5];
  const determinant = 4 * 14 - 6 * 6;
  const a = (14 * 11 - 6 * 22) / determinant;
  const b = (4 * 22 - 6 * 11) / determinant;

  it.each([
    ['by numerical slopes', {}],
    ['by exact slopes', { exactSlopes: () => [Float64Array.of(1, 1, 1, 1), Float64Array.of(0, 1, 2, 3)] }],
  ] as const)('is the one of the normal equations, %s', (_, more) => {
    const found = leastSquares(line(x, y, more), [20, -7]);
    expect(found.at[0]).toBeCloseTo(a, 8);
    expect(found.at[1]).toBeCloseTo(b, 8);
    const squares = x.reduce((sum, each, k) => sum + (a + b * each - y[k]!) ** 2, 0);
    expect(found.squares).toBeCloseTo(squares, 9);
    const covariance = [14 / determinant, -6 / determinant, -6 / determinant, 4 / determinant];
    covariance.forEach((c, i) => {
      expect(found.covariance[i]).toBeCloseTo(c, 7);
    });
    [
      [1, 1, 1, 1],
      [0, 1, 2, 3],
    ].forEach((column, i) => {
      column.forEach((slope, k) => {
        expect(found.slopes[i]![k]).toBeCloseTo(slope, 8);
      });
    });
  });
  it('stays within its bounds: the other parameter does the best it can', () => {
    // With b held at 0.5 the best a is the mean of y − x/2.
    const found = leastSquares(line(x, y, { high: [1e9, 0.5] }), [0, 0]);
    expect(found.at[1]).toBe(0.5);
    expect(found.at[0]).toBeCloseTo((1 + 2.5 + 1 + 3.5) / 4, 6);
    const low = leastSquares(line(x, y, { low: [2, -1e9] }), [5, 0]);
    expect(low.at[0]).toBe(2);
    // With a held at 2 the best b is Σx(y − 2) ÷ Σx².
    expect(low.at[1]).toBeCloseTo((22 - 12) / 14, 6);
  });
  it('asks for no residual outside its bounds', () => {
    const asked: number[] = [];
    const held = line(x, y, { low: [0, 0], high: [0.4, 1] });
    const problem: Problem = {
      ...held,
      residuals: (q) => {
        asked.push(...q);
        expect(q[0]! >= 0 && q[0]! <= 0.4 && q[1]! >= 0 && q[1]! <= 1).toBe(true);
        return held.residuals(q);
      },
    };
    for (const start of [
      [0, 0],
      [0.4, 1],
      [0.2, 0.5],
    ])
      leastSquares(problem, start);
    expect(asked.length).toBeGreaterThan(0);
  });
  it('keeps within bounds below zero too', () => {
    const held = line(x, y, { low: [-3, -3], high: [-2.6, -2] });
    const residuals: Problem['residuals'] = (q) => {
      expect(q[0]! >= -3 && q[0]! <= -2.6 && q[1]! >= -3 && q[1]! <= -2).toBe(true);
      return held.residuals(q);
    };
    expect([...leastSquares({ ...held, residuals }, [-3, -3]).at]).toEqual([-2.6, -2]);
    expect([...leastSquares({ ...held, residuals }, [-2.6, -2]).at]).toEqual([-2.6, -2]);
  });
  it('scaled by a million in one parameter is the same line', () => {
    const scaled: Problem = {
      residuals: (q) => Float64Array.from(x, (each, k) => q[0]! + 1e-6 * q[1]! * each - y[k]!),
      steps: [1e-3, 1e3],
      ...OPEN,
    };
    const found = leastSquares(scaled, [0, 0]);
    expect(found.at[1]! * 1e-6).toBeCloseTo(b, 8);
    expect(found.covariance[3]! * 1e-12).toBeCloseTo(4 / determinant, 7);
    expect(found.covariance[1]! * 1e-6).toBeCloseTo(-6 / determinant, 7);
  });
});

describe('three parameters', () => {
  it('give the inverse of their normal matrix', () => {
    // Slopes chosen so that JᵀJ = [[4, 2, 1], [2, 5, 3], [1, 3, 6]]; its inverse by cofactors over 67.
    const l = [
      [2, 0, 0],
      [1, 2, 0],
      [0.5, 1.25, Math.sqrt(6 - 0.25 - 1.5625)],
    ];
    const columns = l.map((row) => Float64Array.from(row));
    const problem: Problem = {
      residuals: (q) =>
        Float64Array.from([0, 1, 2], (k) => l.reduce((sum, row, i) => sum + row[k]! * q[i]!, 0) - 1),
      exactSlopes: () => columns,
      steps: [],
      low: [-1e9, -1e9, -1e9],
      high: [1e9, 1e9, 1e9],
    };
    const found = leastSquares(problem, [0, 0, 0]);
    expect(found.squares).toBeCloseTo(0, 9);
    const inverse = [21, -9, 1, -9, 23, -10, 1, -10, 16].map((x) => x / 67);
    inverse.forEach((c, i) => {
      expect(found.covariance[i]).toBeCloseTo(c, 9);
    });
  });
});

describe('a parameter held at its bound', () => {
  // The squares of (q − 1), (q − 2), (q − 3) apart and a sum that couples all three to 9.
  const problem = (change: Partial<Problem>): Problem => ({
    residuals: (q) => Float64Array.of(q[0]! - 1, q[1]! - 2, q[2]! - 3, q[0]! + q[1]! + q[2]! - 9),
    steps: [1e-3, 1e-3, 1e-3],
    low: [-50, -50, -50],
    high: [50, 50, 50],
    ...change,
  });
  it.each([
    // Free, each is moved by a quarter of the missing 3.
    { bounds: {}, expected: [1.75, 2.75, 3.75] },
    // One held at h: the others share the rest of 9 − h − their own in thirds.
    { bounds: { high: [1, 50, 50] }, expected: [1, 3, 4] },
    { bounds: { high: [50, 2, 50] }, expected: [2, 2, 4] },
    { bounds: { high: [50, 50, 3] }, expected: [2, 3, 3] },
    { bounds: { low: [4, -50, -50] }, expected: [4, 2, 3] },
    { bounds: { low: [-50, 5, -50] }, expected: [1, 5, 3] },
    { bounds: { low: [-50, -50, 6] }, expected: [1, 2, 6] },
  ])('leaves the others their best: $bounds', ({ bounds, expected }) => {
    const found = leastSquares(
      problem(bounds),
      [4, 5, 6].map((x, i) => Math.min(x, problem(bounds).high[i]!)),
    );
    expected.forEach((x, i) => {
      expect(found.at[i]).toBeCloseTo(x, 5);
    });
  });
});

describe('what the data do not determine', () => {
  it('stays where it is, with endless variance and none with the others', () => {
    const problem: Problem = {
      residuals: (q) => Float64Array.of(q[0]! - 3, q[0]! - 5),
      steps: [1e-3, 1e-3, 1e-3],
      low: [-9, -9, -9],
      high: [9, 9, 9],
    };
    const found = leastSquares(problem, [0, 7, -2]);
    expect(found.at[0]).toBeCloseTo(4, 8);
    expect([found.at[1], found.at[2]]).toEqual([7, -2]);
    expect([...found.covariance]).toEqual([
      expect.closeTo(0.5, 7),
      0,
      0,
      0,
      Number.POSITIVE_INFINITY,
      0,
      0,
      0,
      Number.POSITIVE_INFINITY,
    ]);
  });
  it('between two parameters of one effect is open for the second', () => {
    const problem: Problem = {
      residuals: (q) => Float64Array.of(q[0]! + q[1]! - 3, q[0]! + q[1]! - 5),
      exactSlopes: () => [Float64Array.of(1, 1), Float64Array.of(1, 1)],
      steps: [],
      ...OPEN,
    };
    const found = leastSquares(problem, [0, 0]);
    expect(found.at[0]! + found.at[1]!).toBeCloseTo(4, 6);
    expect([...found.covariance]).toEqual(
      [0.5, 0, 0, Number.POSITIVE_INFINITY].map((c) => expect.closeTo(c, 9)),
    );
  });
});

describe('curves', () => {
  const t = Array.from({ length: 60 }, (_, k) => k / 20);
  const decay = (more: Partial<Problem> = {}): Problem => ({
    residuals: (q) => Float64Array.from(t, (at) => q[0]! * Math.exp(-at / q[1]!) - 5 * Math.exp(-at / 0.7)),
    steps: [1e-5, 1e-5],
    low: [0, 1e-3],
    high: [100, 100],
    ...more,
  });
  it.each([
    [1, 0.1],
    [10, 2],
    [0.1, 0.7],
    [20, 0.05],
  ])('of an exponential are found from %d and %d s', (start, tau) => {
    const found = leastSquares(decay(), [start, tau]);
    expect(found.at[0]).toBeCloseTo(5, 5);
    expect(found.at[1]).toBeCloseTo(0.7, 5);
  });
  it('end where a round gains too little', () => {
    let rounds = 0;
    const count = (residuals: Problem['residuals']) => (q: Float64Array) => {
      rounds++;
      return residuals(q);
    };
    const counted = (gainShare: number): number => {
      rounds = 0;
      const { residuals } = decay();
      leastSquares(decay({ gainShare, residuals: count(residuals) }), [50, 5]);
      return rounds;
    };
    const all = counted(1e-9);
    expect(counted(0.9999)).toBeLessThan(all);
    expect(counted(1)).toBeLessThanOrEqual(6);
    expect(all).toBeLessThan(200);
  });
  it('that bend too much for a whole step are found by shorter ones', () => {
    // From 10 a whole step of Newton on the arc tangent leads to −138, and ever farther.
    const bent: Problem = {
      residuals: (q) => Float64Array.of(Math.atan(q[0]!)),
      exactSlopes: (q) => [Float64Array.of(1 / (1 + q[0]! ** 2))],
      steps: [],
      low: [-1e9],
      high: [1e9],
    };
    expect(leastSquares(bent, [10]).at[0]).toBeCloseTo(0, 9);
  });
  it('that fall for ever are followed for sixty rounds', () => {
    // Each whole step on e^−x is one.
    const falling: Problem = {
      residuals: (q) => Float64Array.of(Math.exp(-q[0]!)),
      exactSlopes: (q) => [Float64Array.of(-Math.exp(-q[0]!))],
      steps: [],
      low: [-1e9],
      high: [1e9],
    };
    expect(leastSquares(falling, [0]).at[0]).toBeCloseTo(60, 1);
  });
  it('that no step betters leave the start as it was', () => {
    const found = leastSquares(decay(), [5, 0.7]);
    expect([...found.at]).toEqual([5, 0.7]);
    expect(found.squares).toBe(0);
  });
  it('that cannot be reckoned leave it too', () => {
    const found = leastSquares({ ...decay(), residuals: () => new Float64Array(3).fill(Number.NaN) }, [1, 1]);
    expect([...found.at]).toEqual([1, 1]);
    expect(found.squares).toBeNaN();
  });
});

describe("Student's factor for 95 %", () => {
  it.each([
    [1, 12.706, 1e-9],
    [2, 4.303, 1e-9],
    // Published table, two-sided.
    [3, 3.182, 0.02],
    [4, 2.776, 0.02],
    [5, 2.571, 0.02],
    [10, 2.228, 0.02],
    [30, 2.042, 0.02],
    [1e6, 1.96, 1e-3],
  ])('of %d residuals is %d', (freedom, factor, share) => {
    expect(Math.abs(student95(freedom) / factor - 1)).toBeLessThan(share);
  });
  it.each([0.999, 0, -3, Number.NaN])('of %d there is none', (freedom) => {
    expect(student95(freedom)).toBe(Number.POSITIVE_INFINITY);
  });
  it('falls with every further residual', () => {
    const factors = [1, 1.4, 1.6, 2, 2.4, 2.6, 3, 4, 5, 8, 12].map(student95);
    factors.slice(1).forEach((f, k) => {
      expect(f).toBeLessThanOrEqual(factors[k]!);
    });
    expect(student95(1.4)).toBe(12.706);
    expect(student95(1.6)).toBe(4.303);
    expect(student95(2.4)).toBe(4.303);
    expect(student95(2.6)).toBeLessThan(4);
  });
});

describe('the covariance of two figures', () => {
  // Of the parameters: variances 4, 9 and 16, and 1, 2 and −3 between them.
  const covariance = Float64Array.of(4, 1, 2, 1, 9, -3, 2, -3, 16);
  it.each([
    { a: [1, 0, 0], b: [1, 0, 0], expected: 4 },
    { a: [0, 1, 0], b: [0, 0, 1], expected: -3 },
    // The variance of a sum, and of a difference.
    { a: [1, 1, 0], b: [1, 1, 0], expected: 4 + 9 + 2 },
    { a: [1, -1, 0], b: [1, -1, 0], expected: 4 + 9 - 2 },
    { a: [2, 0, 1], b: [0, 3, 0], expected: 2 * 3 * 1 - 3 * 3 },
  ])('$a with $b: $expected', ({ a, b, expected }) => {
    expect(joined(a, covariance, b)).toBe(expected);
  });
  it('is not touched by a parameter that is not known at all and has no part in them', () => {
    const open = Float64Array.of(4, 0, 0, Number.POSITIVE_INFINITY);
    expect(joined([1, 0], open, [3, 0])).toBe(12);
    expect(joined([1, 0], open, [3, 2])).toBe(12);
    expect(joined([1, 1], open, [1, 1])).toBe(Number.POSITIVE_INFINITY);
  });
});
