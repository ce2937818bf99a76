/** The governor: slope and least limit. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { loadRig } from '../../src/rig/load.js';
import { fixedLimits, govern, governedSlopeAPerS, leastLimit } from '../../src/supervisor/governor.js';

const { rig } = loadRig('depot-cable');

describe('the slope', () => {
  it('is what the supply can take where that is less than the rig’s ramp', () => {
    const weak = { ...rig, supply: { ...rig.supply, slopeKwPerS: 7.5 } };
    // 7.5 kW/s at 750 V is 10 A/s (arithmetic of W22: 20 A/s at 750 V is 15 kW/s).
    expect(governedSlopeAPerS(weak, 750)).toBeCloseTo(10, 9);
    expect(governedSlopeAPerS(rig, 750)).toBe(20);
  });
  it('is zero when the voltage cannot be read', () => {
    expect(governedSlopeAPerS(rig, Number.NaN)).toBe(0);
  });
  it('is zero, as is what may flow, when the voltage is the wrong way round', () => {
    expect(governedSlopeAPerS(rig, -650)).toBe(0);
    expect(leastLimit(fixedLimits(rig, -650)).currentA).toBe(0);
    // A dead bus is no such thing: it is what a first volt is seen on.
    expect(leastLimit(fixedLimits(rig, 0)).currentA).toBeGreaterThan(0);
  });
});

describe('the least limit', () => {
  it('names the least', () => {
    expect(
      leastLimit([
        { limit: 'a', currentA: 5 },
        { limit: 'b', currentA: 3 },
      ]),
    ).toEqual({ limit: 'b', currentA: 3 });
  });
  it('counts an unreadable or negative limit as none permitted', () => {
    expect(
      leastLimit([
        { limit: 'a', currentA: 5 },
        { limit: 'b', currentA: Number.NaN },
      ]).currentA,
    ).toBe(0);
    expect(leastLimit([{ limit: 'a', currentA: -1 }]).currentA).toBe(0);
    expect(leastLimit([]).currentA).toBe(0);
  });
  it('takes converter losses off what the supply gives', () => {
    const supply = fixedLimits(rig, 750).find((l) => l.limit === 'supply power');
    // (400 kW − 1.5 kW) ÷ (750 V + 8 V)
    expect(supply?.currentA).toBeCloseTo(398_500 / 758, 6);
  });
});

describe('the set-point', () => {
  it('never exceeds the least limit nor rises faster than the slope, whatever comes (I3)', () => {
    const steps = fc.array(
      fc.record({
        limitA: fc.double({ min: -10, max: 400 }),
        stepMs: fc.double({ min: 0, max: 5000, noNaN: true }),
        volts: fc.double({ min: 0, max: 900 }),
      }),
      { maxLength: 50 },
    );
    fc.assert(
      fc.property(steps, (list) => {
        let state = { setpointA: 0 };
        for (const { limitA, stepMs, volts } of list) {
          const before = state.setpointA;
          const limits = [{ limit: 'x', currentA: limitA }];
          state = govern(state, 'govern', limits, volts, stepMs, rig).state;
          expect(state.setpointA).toBeLessThanOrEqual(limitA >= 0 ? limitA : 0);
          expect(state.setpointA).toBeGreaterThanOrEqual(0);
          const seconds = Math.min(stepMs, 2 * rig.link.periodMs) / 1000;
          expect(state.setpointA - before).toBeLessThanOrEqual(rig.ramp.upAPerS * seconds + 1e-9);
        }
      }),
      { seed: 1 },
    );
  });
  it('falls at once with a falling limit, and at the rig’s slope when ramping down', () => {
    const at300 = { setpointA: 300 };
    expect(govern(at300, 'govern', [{ limit: 'x', currentA: 225 }], 700, 50, rig).state.setpointA).toBe(225);
    const down = govern(at300, 'ramp-down', [{ limit: 'x', currentA: 400 }], 700, 50, rig);
    expect(down.state.setpointA).toBeCloseTo(295, 9);
  });
});
