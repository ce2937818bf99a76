import { describe, expect, it } from 'vitest';
import {
  adiabaticK,
  adiabaticKFromC,
  ambientFactor,
  type CableFigures,
  cableLoopOhm,
  cableRatingA,
  drumFactor,
  sectionFor,
  steadyConductorC,
  withstandA2s,
} from '../../src/rig/ratings.js';

const cable: CableFigures = { mm2: 95, lengthM: 20, coresPerPole: 1, insulation: 'epr-xlpe', drumLayers: 0 };
/** Within 0.1 %, as the reference values are given. */
const close = (found: number, expected: number) => expect(Math.abs(found / expected - 1)).toBeLessThan(0.001);

describe('cable', () => {
  it('W9: 40 m loop of 95 mm²', () => {
    close(cableLoopOhm(cable, 20), 8.24e-3);
    close(cableLoopOhm(cable, 70), 9.859e-3);
    close(cableLoopOhm(cable, 90), 10.507e-3);
    close(300 * cableLoopOhm(cable, 70), 2.958);
    close(300 ** 2 * cableLoopOhm(cable, 70), 887.3);
  });

  it('W11: adiabatic limit', () => {
    close(withstandA2s(cable), 1.8455e8);
    close(withstandA2s(cable) / 10_000 ** 2, 1.846);
    close(withstandA2s({ ...cable, insulation: 'pvc' }) / 10_000 ** 2, 1.194);
  });

  it('k agrees with its formula', () => {
    for (const insulation of ['pvc', 'rubber-85', 'epr-xlpe'] as const) {
      expect(Math.abs(adiabaticKFromC(insulation) - adiabaticK(insulation))).toBeLessThan(0.5);
    }
  });

  it('W12: 300 A', () => {
    close(cableRatingA(cable, 50), 302.6);
    close(cableRatingA(cable, 55), 280.4);
    expect(sectionFor(300, cable, 50)).toBe(95);
    expect(sectionFor(300, cable, 55)).toBe(120);
    expect(sectionFor(300, { ...cable, drumLayers: 2 }, 30)).toBe(150);
  });

  it('takes the next warmer row, gives nothing for cold air, and nothing at all beyond the table', () => {
    expect([ambientFactor(-20), ambientFactor(30), ambientFactor(31), ambientFactor(60)]).toEqual([
      1, 1, 0.95, 0.7,
    ]);
    expect(ambientFactor(60.1)).toBeNaN();
    expect([0, 1, 2, 3, 4].map(drumFactor)).toEqual([1, 0.85, 0.65, 0.45, 0.35]);
    expect(drumFactor(5)).toBeNaN();
    expect(cableRatingA({ ...cable, mm2: 35 }, 30)).toBeNaN();
    expect(sectionFor(2000, cable, 30)).toBeUndefined();
  });

  it('gives less to insulation that bears less', () => {
    close(cableRatingA({ ...cable, insulation: 'pvc' }, 30), 369 * Math.sqrt(40 / 60));
    expect(cableRatingA({ ...cable, insulation: 'rubber-85' }, 30)).toBeLessThan(369);
    expect(cableRatingA({ ...cable, coresPerPole: 2 }, 30)).toBe(2 * 369);
  });

  it('settles where heat in equals heat out', () => {
    const run = { ...cable, thermalResistanceKPerW: 0.042 };
    const settlesC = steadyConductorC(run, 300, 35);
    close(300 ** 2 * cableLoopOhm(cable, settlesC) * 0.042, settlesC - 35);
    expect(steadyConductorC(run, 5000, 35)).toBe(Number.POSITIVE_INFINITY);
    // The thermal resistance of the demo rig is the one the rating table implies: 60 K at 369 A.
    expect(Math.abs(steadyConductorC(run, 369, 30) - 90)).toBeLessThan(1);
  });
});
