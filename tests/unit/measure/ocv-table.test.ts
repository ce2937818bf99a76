import { describe, expect, it } from 'vitest';
import { inverseOf, ocvCurve } from '../../../src/measure/ocv-table.js';

const CURVE = ocvCurve([
  { soc: 1, v: 4.1 },
  { soc: 0, v: 3.0, hysteresisV: 0.02 },
  { soc: 0.5, v: 3.6, hysteresisV: 0.01 },
  { soc: 0.6, v: 3.6 },
]);

describe('a table of open-circuit volts', () => {
  it('passes through its points and never overshoots between them', () => {
    for (const [soc, v] of [
      [0, 3],
      [0.5, 3.6],
      [0.6, 3.6],
      [1, 4.1],
    ] as const)
      expect(CURVE.v(soc)).toBeCloseTo(v, 12);
    for (let soc = 0; soc <= 0.5; soc += 0.01) expect(CURVE.v(soc)).toBeLessThanOrEqual(3.6 + 1e-12);
    for (let soc = 0.5; soc <= 0.6; soc += 0.01) expect(CURVE.v(soc)).toBeCloseTo(3.6, 12);
  });
  it('goes on straight beyond its ends', () => {
    expect(CURVE.v(-0.1)).toBeCloseTo(3 - 0.1 * 1.2, 9);
    expect(CURVE.v(1.1)).toBeCloseTo(4.1 + 0.1 * 1.25, 9);
    expect(CURVE.slope(-0.1)).toBeCloseTo(1.2, 6);
  });
  it('goes on rising above a last step that is level, or every charge would go on for ever', () => {
    const level = ocvCurve([
      { soc: 0, v: 3 },
      { soc: 0.9, v: 4 },
      { soc: 0.95, v: 4.1 },
      { soc: 0.99, v: 4.2 },
      { soc: 1, v: 4.2 },
    ]);
    expect(level.v(1)).toBeCloseTo(4.2, 12);
    expect(level.v(1.1)).toBeCloseTo(4.2 + 0.1 * 2, 9);
    expect(level.slope(1.1)).toBeCloseTo(2, 6);
  });
  it('knows hysteresis only where it was measured', () => {
    expect(CURVE.hysteresisV(0.25)).toBeCloseTo(0.015, 9);
    expect(CURVE.hysteresisV(0.8)).toBeNaN();
  });
  it('finds the charge at given volts', () => {
    expect(CURVE.v(CURVE.inverse(3.4))).toBeCloseTo(3.4, 9);
    expect(CURVE.inverse(0)).toBeCloseTo(-0.05, 6);
    expect(inverseOf((x) => x * x, 4, 0, 10)).toBeCloseTo(2, 9);
  });
});
