/** Isolation algebra against worked examples W1 to W5 (UN R100 rev 2 annex, published; algebra). */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  injectedParallelOhm,
  lowerPoleOhm,
  solveTwoPositions,
  solveUnfavourably,
  withoutMeter,
} from '../../../src/checks/known-resistor.js';

const NO_METER = Number.POSITIVE_INFINITY;
/** Pole voltages of a live network by the divider; the source spans both poles. */
function poles(bothV: number, positiveOhm: number, negativeOhm: number) {
  const positiveV = (bothV * positiveOhm) / (positiveOhm + negativeOhm);
  return { tMs: 0, positiveV, negativeV: bothV - positiveV };
}
const beside = (a: number, b: number) => 1 / (1 / a + 1 / b);

describe('the formula of UN R100', () => {
  it.each([
    ['W1', 75e3, 450, 173.077, 200e3],
    ['W2', 75e3, 375, 267.857, 60e3],
    ['W3', 75e3, 714.286, 436.893, 50e3],
    ['W4', 75e3, 738.916, 372.208, 75e3],
  ])('%s', (_, knownOhm, withoutV, withV, expectedOhm) => {
    const ohm = lowerPoleOhm(knownOhm, 750, withoutV, withV);
    // W1 carries R0 on the negative pole, which read 450 V there: V1 is that pole's.
    expect(Math.abs(ohm / expectedOhm - 1)).toBeLessThan(1e-3);
  });
  it('W5: a 10 MΩ meter on 200 kΩ reads 196.078 kΩ', () => {
    expect(withoutMeter(196_078, 10e6)).toBeCloseTo(200_000, -1);
  });
});

describe('two positions', () => {
  it.each([
    ['W1', 200e3, 300e3, 200e3],
    ['W2: balanced volts hide nothing', 60e3, 60e3, 60e3],
    ['W3', 1e6, 50e3, 50e3],
    ['W4', 75e3, 5e6, 75e3],
  ])('%s', (_, rp, rn, lower) => {
    const a = poles(750, beside(rp, 75e3), rn);
    const b = poles(750, rp, beside(rn, 75e3));
    const leak = solveTwoPositions(a, b, 75e3, NO_METER);
    expect(leak.positiveOhm / rp).toBeCloseTo(1, 6);
    expect(leak.negativeOhm / rn).toBeCloseTo(1, 6);
    expect(leak.lowerOhm / lower).toBeCloseTo(1, 6);
    expect(leak.parallelOhm / beside(rp, rn)).toBeCloseTo(1, 6);
  });
  it('solves any pair of leakages, and takes the voltmeters off', () => {
    const ohm = fc.double({ min: 1e4, max: 5e6, noNaN: true });
    fc.assert(
      fc.property(ohm, ohm, fc.double({ min: 400, max: 900, noNaN: true }), (rp, rn, bothV) => {
        const meterOhm = 10e6;
        const p = beside(rp, meterOhm);
        const n = beside(rn, meterOhm);
        const a = poles(bothV, beside(p, 75e3), n);
        const b = poles(bothV, p, beside(n, 75e3));
        const leak = solveTwoPositions(a, b, 75e3, meterOhm);
        expect(leak.positiveOhm / rp).toBeCloseTo(1, 4);
        expect(leak.negativeOhm / rn).toBeCloseTo(1, 4);
      }),
      { seed: 41, numRuns: 200 },
    );
  });
  it('W4: at the boundary, the unfavourable figure is below the limit', () => {
    const a = poles(750, beside(75e3, 75e3), 5e6);
    const b = poles(750, 75e3, beside(5e6, 75e3));
    expect(solveUnfavourably(a, b, 75e3, NO_METER, 0.004).lowerOhm).toBeLessThan(75e3);
    expect(solveUnfavourably(a, b, 75e3, NO_METER, 0.004).lowerOhm).toBeGreaterThan(73e3);
  });
  it('solves nothing from readings that fit no network', () => {
    const a = poles(750, 1e5, 1e5);
    expect(solveTwoPositions(a, a, 75e3, NO_METER).lowerOhm).toBeNaN();
    const blind = { tMs: 0, positiveV: Number.NaN, negativeV: 300 };
    expect(solveTwoPositions(blind, a, 75e3, NO_METER).lowerOhm).toBeNaN();
  });
});

describe('a dead network, injected', () => {
  const pole = (ohm: number) => (48 * ohm) / (ohm + 100e3);
  it('gives the parallel value of two free poles', () => {
    const pair = { positiveV: pole(200e3), negativeV: pole(300e3) };
    expect(injectedParallelOhm(pair, 48, 100e3, NO_METER)).toBeCloseTo(120e3, 0);
  });
  it('gives it too when a capacitor holds both poles together', () => {
    // 120 kΩ in all against two resistors of 100 kΩ side by side.
    const volts = (48 * 120e3) / (120e3 + 50e3);
    expect(injectedParallelOhm({ positiveV: volts, negativeV: volts }, 48, 100e3, NO_METER)).toBeCloseTo(
      120e3,
      0,
    );
  });
  it('calls a short zero and the impossible unreadable', () => {
    expect(injectedParallelOhm({ positiveV: 0, negativeV: 30 }, 48, 100e3, NO_METER)).toBe(0);
    expect(injectedParallelOhm({ positiveV: 55, negativeV: 30 }, 48, 100e3, NO_METER)).toBeNaN();
    expect(injectedParallelOhm({ positiveV: Number.NaN, negativeV: 30 }, 48, 100e3, NO_METER)).toBeNaN();
  });
});
