/** Isolation algebra against worked examples W1 to W5 (UN R100 rev 2 annex, published; algebra). */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  injectedApartOhm,
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

/** Leaks by Cramer's rule from what leaves and enters chassis in both positions; a ratio of volts each. */
function byCramer(ratioA: number, ratioB: number, knownOhm: number, meterOhm: number) {
  // Gp − a·Gn = −G0 and Gp − b·Gn = b·G0, with a and b the negative pole's volts over the positive pole's.
  const g0 = 1 / knownOhm;
  const determinant = -ratioB + ratioA;
  const positiveS = (-g0 * -ratioB - -ratioA * (ratioB * g0)) / determinant;
  const negativeS = (ratioB * g0 + g0) / determinant;
  return { positiveOhm: 1 / (positiveS - 1 / meterOhm), negativeOhm: 1 / (negativeS - 1 / meterOhm) };
}

describe('the unfavourable figure', () => {
  const worstOf = (a: number, b: number, offA: number, offB: number): number =>
    Math.min(
      ...[1 + offA, 1 - offA].flatMap((x) =>
        [1 + offB, 1 - offB].flatMap((y) => Object.values(byCramer(a / x, b / y, 75e3, 10e6))),
      ),
    );
  it.each([
    { rp: 200e3, rn: 300e3 },
    { rp: 1e6, rn: 50e3 },
    { rp: 60e3, rn: 5e6 },
    { rp: 2e6, rn: 2e6 },
  ])('of $rp Ω and $rn Ω has both ratios off the worse way', ({ rp, rn }) => {
    const a = poles(750, beside(beside(rp, 10e6), 75e3), beside(rn, 10e6));
    const b = poles(750, beside(rp, 10e6), beside(beside(rn, 10e6), 75e3));
    const ratioA = a.negativeV / a.positiveV;
    const ratioB = b.negativeV / b.positiveV;
    const share = solveUnfavourably(a, b, 75e3, 10e6, 0.004);
    expect(share.lowerOhm / worstOf(ratioA, ratioB, 0.004, 0.004)).toBeCloseTo(1, 9);
    // And by a quarter of a volt of the smaller reading of each pair.
    const [offA, offB] = [a, b].map((x) => 0.004 + 0.25 / Math.min(x.positiveV, x.negativeV));
    const floored = solveUnfavourably(a, b, 75e3, 10e6, 0.004, 0.25);
    expect(floored.lowerOhm / worstOf(ratioA, ratioB, offA!, offB!)).toBeCloseTo(1, 9);
    expect(floored.lowerOhm).toBeLessThan(share.lowerOhm);
  });
  it('takes no ratio to be worse than by half', () => {
    // A tenth and a hundredth of a volt on the negative pole: a quarter of a volt is more than all of it.
    const a = { tMs: 0, positiveV: 749.9, negativeV: 0.1 };
    const b = { tMs: 0, positiveV: 749.99, negativeV: 0.01 };
    const found = solveUnfavourably(a, b, 75e3, 10e6, 0, 0.25);
    expect(found.lowerOhm / worstOf(0.1 / 749.9, 0.01 / 749.99, 0.5, 0.5)).toBeCloseTo(1, 6);
  });
  it('takes the smaller reading by its size: one pole may read the other way round', () => {
    const a = { tMs: 0, positiveV: -100, negativeV: -650 };
    const b = { tMs: 0, positiveV: -400, negativeV: -350 };
    const found = solveUnfavourably(a, b, 75e3, 10e6, 0, 5);
    expect(found.lowerOhm / worstOf(6.5, 350 / 400, 5 / 100, 5 / 350)).toBeCloseTo(1, 9);
  });
  it('is none where the worse way solves to no network, though another way would', () => {
    // The ratios are 0.5 % apart, each good to 0.4 %.
    const a = { tMs: 0, positiveV: 400, negativeV: 402 };
    const b = { tMs: 0, positiveV: 400, negativeV: 400 };
    expect(solveTwoPositions(a, b, 75e3, NO_METER).lowerOhm).toBeGreaterThan(0);
    expect(solveUnfavourably(a, b, 75e3, NO_METER, 0.004).lowerOhm).toBeNaN();
    expect(solveUnfavourably(a, b, 75e3, NO_METER, 0.004).parallelOhm).toBeNaN();
  });
});

describe('what two positions give beside the poles', () => {
  it('is all that loads chassis in the first: leaks, voltmeters and the known resistor', () => {
    const a = poles(750, beside(beside(200e3, 10e6), 75e3), beside(300e3, 10e6));
    const b = poles(750, beside(200e3, 10e6), beside(beside(300e3, 10e6), 75e3));
    const leak = solveTwoPositions(a, b, 75e3, 10e6);
    const expectedS = 1 / 200e3 + 1 / 300e3 + 2 / 10e6 + 1 / 75e3;
    expect(leak.totalS / expectedS).toBeCloseTo(1, 9);
    expect(leak.parallelOhm).toBeCloseTo(120e3, 3);
  });
  it('is no leak where less flows than the voltmeter draws, and the other pole alone in parallel', () => {
    // A voltmeter of 20 MΩ on the positive pole is taken for one of 10.
    const a = poles(750, beside(20e6, 75e3), beside(300e3, 10e6));
    const b = poles(750, 20e6, beside(beside(300e3, 10e6), 75e3));
    const leak = solveTwoPositions(a, b, 75e3, 10e6);
    expect(leak.positiveOhm).toBe(Number.POSITIVE_INFINITY);
    expect(leak.negativeOhm).toBeCloseTo(300e3, 2);
    expect(leak.parallelOhm).toBeCloseTo(300e3, 2);
    expect(leak.lowerOhm).toBeCloseTo(300e3, 2);
    const mirrored = solveTwoPositions(
      poles(750, beside(beside(300e3, 10e6), 75e3), 20e6),
      poles(750, beside(300e3, 10e6), beside(20e6, 75e3)),
      75e3,
      10e6,
    );
    expect(mirrored.negativeOhm).toBe(Number.POSITIVE_INFINITY);
    expect(mirrored.parallelOhm).toBeCloseTo(300e3, 2);
  });
  it('reads a pole that leaks nothing at all', () => {
    // Without voltmeters the whole voltage stands across a pole that nothing loads.
    const a = poles(750, 75e3, 100e3);
    const b = { tMs: 0, positiveV: 750, negativeV: 0 };
    const leak = solveTwoPositions(a, b, 75e3, NO_METER);
    expect(leak.positiveOhm).toBe(Number.POSITIVE_INFINITY);
    expect(leak.negativeOhm).toBeCloseTo(100e3, 3);
  });
  it.each([
    { is: 'no volts on the positive pole', a: [0, 750], b: [500, 250] },
    { is: 'a negative pole beyond chassis in the second', a: [300, 450], b: [800, -50] },
    { is: 'the positions exchanged', a: [500, 250], b: [300, 450] },
    { is: 'no volts at all in the second', a: [300, 450], b: [0, 0] },
    { is: 'an unreadable second', a: [300, 450], b: [Number.NaN, 250] },
  ])('is nothing with $is', ({ a, b }) => {
    const pair = ([positiveV = 0, negativeV = 0]: number[]) => ({ tMs: 0, positiveV, negativeV });
    const leak = solveTwoPositions(pair(a), pair(b), 75e3, 10e6);
    for (const figure of Object.values(leak)) expect(figure).toBeNaN();
  });
});

describe('without the voltmeter', () => {
  it('nothing is left of what the voltmeter itself draws', () => {
    expect(withoutMeter(10e6, 10e6)).toBe(Number.POSITIVE_INFINITY);
    expect(withoutMeter(11e6, 10e6)).toBe(Number.POSITIVE_INFINITY);
    expect(withoutMeter(5e6, 10e6)).toBeCloseTo(10e6, 3);
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
  it('takes both voltmeters off', () => {
    const volts = pole(beside(200e3, 10e6));
    const pair = { positiveV: volts, negativeV: volts };
    expect(injectedParallelOhm(pair, 48, 100e3, 10e6)).toBeCloseTo(100e3, 2);
  });
  it.each([
    // 102 % of 48 V are 48.96 V: more than the injection itself is a reading of something else.
    { positiveV: 48.96, negativeV: 48.96, expected: Number.POSITIVE_INFINITY },
    { positiveV: 48.97, negativeV: 24, expected: Number.NaN },
    { positiveV: 24, negativeV: 48.97, expected: Number.NaN },
    { positiveV: 24, negativeV: 0, expected: 0 },
    { positiveV: -1, negativeV: 24, expected: 0 },
    { positiveV: 24, negativeV: -1, expected: 0 },
    { positiveV: 24, negativeV: Number.NaN, expected: Number.NaN },
  ])('of $positiveV V and $negativeV V makes $expected Ω', ({ positiveV, negativeV, expected }) => {
    expect(injectedParallelOhm({ positiveV, negativeV }, 48, 100e3, NO_METER)).toBe(expected);
  });
});

describe('an injection into poles that a charged capacitor holds apart', () => {
  const pole = (ohm: number) => (48 * ohm) / (ohm + 100e3);
  /** Kirchhoff: both resistors together bring what both poles leak, the poles `apartV` from one another. */
  const coupled = (positiveOhm: number, negativeOhm: number, apartV: number) => {
    const middleV =
      ((2 * 48) / 100e3 - (apartV / 2) * (1 / positiveOhm - 1 / negativeOhm)) /
      (2 / 100e3 + 1 / positiveOhm + 1 / negativeOhm);
    return { positiveV: middleV + apartV / 2, negativeV: middleV - apartV / 2 };
  };
  it('never shows more than there is, whatever leaks and whichever pole is the higher', () => {
    const ohm = fc.double({ min: 5e3, max: 2e7, noNaN: true });
    const apart = fc.double({ min: -60, max: 60, noNaN: true });
    fc.assert(
      fc.property(ohm, ohm, apart, (positiveOhm, negativeOhm, apartV) => {
        const found = injectedApartOhm(coupled(positiveOhm, negativeOhm, apartV), 48, 100e3, NO_METER, 60);
        return Number.isNaN(found) || found <= beside(positiveOhm, negativeOhm) * (1 + 1e-6);
      }),
    );
  });
  it('never shows more than the lower pole has, where nothing couples the poles and something lifts the other', () => {
    const negativeV = pole(90e3);
    expect(injectedApartOhm({ positiveV: 50, negativeV }, 48, 100e3, NO_METER, 60)).toBeCloseTo(90e3, 0);
  });
  it('still clears a sound side', () => {
    // 1.5 MΩ in all: the middle stands at 46.5 V, the lower pole 5.65 V below it loses 7.2 V in its resistor.
    const found = injectedApartOhm(coupled(3e6, 3e6, 11.3), 48, 100e3, NO_METER, 60);
    expect(found).toBeGreaterThan(500e3);
    expect(found).toBeLessThan(600e3);
  });
  it('takes the voltmeter off', () => {
    const negativeV = pole(beside(90e3, 10e6));
    expect(injectedApartOhm({ positiveV: 50, negativeV }, 48, 100e3, 10e6, 60)).toBeCloseTo(90e3, 0);
  });
  it.each([
    ['more apart than a dead side may be', { positiveV: 78, negativeV: 17 }],
    ['both lifted above the injection, as by a source to chassis', { positiveV: 55, negativeV: 45 }],
    ['both below the injection, which needs no such bound', { positiveV: 47.9, negativeV: 40 }],
    ['a pole below chassis', { positiveV: 50, negativeV: -1 }],
    ['a pole at chassis', { positiveV: 50, negativeV: 0 }],
    ['a pole that cannot be read', { positiveV: 50, negativeV: Number.NaN }],
    ['the other pole that cannot be read', { positiveV: Number.NaN, negativeV: 40 }],
  ])('shows nothing of %s', (_, pair) => {
    expect(injectedApartOhm(pair, 48, 100e3, NO_METER, 60)).toBeNaN();
  });
});
