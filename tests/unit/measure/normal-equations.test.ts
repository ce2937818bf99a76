import { describe, expect, it } from 'vitest';
import { NormalEquations } from '../../../src/measure/normal-equations.js';

describe('linear least squares with priors', () => {
  it('fits a line and states how sure it is', () => {
    const equations = new NormalEquations(2);
    for (const x of [0, 1, 2, 3]) equations.add(Float64Array.of(1, x), 2 + 3 * x, 0.1);
    const { p, covariance } = equations.solve([false, false]);
    expect(p[0]).toBeCloseTo(2, 9);
    expect(p[1]).toBeCloseTo(3, 9);
    // σ²/Σ(x − x̄)² = 0.01/5
    expect(covariance[3]).toBeCloseTo(0.002, 9);
    expect(equations.misfit(p)).toBeCloseTo(0, 6);
    expect(equations.misfit(Float64Array.of(2, 3.1))).toBeCloseTo(14, 6);
  });
  it('keeps the prior where the rows say nothing', () => {
    const equations = new NormalEquations(2);
    equations.add(Float64Array.of(1, 0), 5, 0.1);
    equations.believe([[1, 1]], 7, 2);
    const { p, covariance } = equations.solve([false, false]);
    expect([p[0], p[1]]).toEqual([expect.closeTo(5, 9), expect.closeTo(7, 9)]);
    expect(covariance[3]).toBeCloseTo(4, 9);
  });
  it('holds bounded parameters at nought and fits the others to that', () => {
    const equations = new NormalEquations(2);
    equations.add(Float64Array.of(1, 1), 1, 1);
    equations.add(Float64Array.of(1, -1), 3, 1);
    expect(equations.solve([false, false]).p[1]).toBeCloseTo(-1, 9);
    const { p, covariance } = equations.solve([false, true]);
    expect(p[1]).toBe(0);
    expect(p[0]).toBeCloseTo(2, 9);
    expect(covariance[3]).toBe(0);
  });
  it('lets a held parameter go when it was held wrongly', () => {
    // Alone the first two would be below nought; with the first held, the second rises.
    const equations = new NormalEquations(2);
    equations.add(Float64Array.of(1, 1), 1, 1);
    equations.add(Float64Array.of(1, 0.9), 0.8, 1);
    equations.believe([[0, 1]], -0.5, 0.1);
    const { p } = equations.solve([true, true]);
    expect(p[0]).toBe(0);
    expect(p[1]).toBeGreaterThan(0.9);
  });
  it('refuses to guess what nothing speaks of', () => {
    const equations = new NormalEquations(2);
    equations.add(Float64Array.of(1, 0), 5, 0.1);
    expect(() => equations.solve([false, false])).toThrow(/say anything/);
  });
});
