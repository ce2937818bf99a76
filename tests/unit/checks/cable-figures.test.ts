/** The cable by its tables: worked figures, what they have to do with each other, and where the tables end. */
import { describe, expect, it } from 'vitest';
import { cableFigures, thermalResistanceKPerW } from '../../../src/checks/cable-figures.js';
import type { CableFigures } from '../../../src/rig/ratings.js';

const cable: CableFigures = { mm2: 95, lengthM: 20, coresPerPole: 1, insulation: 'epr-xlpe', drumLayers: 0 };

describe('cable figures', () => {
  it('settles at 90 °C at the tabled current in the tabled air, and at air temperature with none', () => {
    expect(cableFigures(cable, 369, 30).steadyC.value).toBeCloseTo(90, 6);
    expect(cableFigures(cable, 1e-3, 30).steadyC.value).toBeCloseTo(30, 6);
  });
  it('agrees with the derating table: at the permitted current in warm air it settles near 90 °C', () => {
    for (const ambientC of [40, 50, 60]) {
      const { permittedA } = cableFigures(cable, 300, ambientC);
      expect(Math.abs(cableFigures(cable, permittedA, ambientC).steadyC.value - 90)).toBeLessThan(1.5);
    }
  });
  it('W12 and W11: passes at 50 °C, not at 55 °C; bears 1.8455e8 A²s', () => {
    const cool = cableFigures(cable, 300, 50);
    expect([cool.verdict, Math.round(cool.permittedA)]).toEqual(['ok', 303]);
    expect(cableFigures(cable, 300, 55).verdict).toBe('overloaded');
    expect(cool.faultWithstandA2s / 1e8).toBeCloseTo(1.8455, 4);
  });
  it('resistance, drop and loss belong together and hold at the temperature stated', () => {
    const { resistanceOhm, dropV, lossW, steadyC, at20Ohm } = cableFigures(cable, 300, 35);
    expect(at20Ohm).toBeCloseTo(8.24e-3, 6);
    expect(resistanceOhm.value).toBeCloseTo(at20Ohm * (1 + 0.00393 * (steadyC.value - 20)), 9);
    expect(dropV.value).toBeCloseTo(300 * resistanceOhm.value, 9);
    expect(lossW.value).toBeCloseTo(300 * dropV.value, 9);
    // What heats is what the thermal resistance carries away.
    expect(lossW.value * thermalResistanceKPerW(cable)).toBeCloseTo(steadyC.value - 35, 6);
  });
  it('is warmer on a drum and in two cores cooler', () => {
    const laid = cableFigures(cable, 200, 30).steadyC.value;
    expect(cableFigures({ ...cable, drumLayers: 2 }, 200, 30).steadyC.value).toBeGreaterThan(laid + 10);
    expect(cableFigures({ ...cable, coresPerPole: 2 }, 200, 30).steadyC.value).toBeLessThan(laid - 10);
  });
  it('is unclear where the tables say nothing', () => {
    const thin = cableFigures({ ...cable, mm2: 50 }, 100, 30);
    expect(thin.verdict).toBe('unclear');
    expect(thin.at20Ohm).toBeCloseTo(0.01544, 9);
    expect(thin.permittedA).toBeNaN();
    expect(cableFigures(cable, 100, 65).verdict).toBe('unclear');
  });
  it('names a source for every figure', () => {
    const { sources } = cableFigures(cable, 300, 35);
    for (const name of ['at20Ohm', 'resistanceOhm', 'dropV', 'lossW', 'steadyC', 'permittedA'])
      expect(sources[name]?.length).toBeGreaterThan(10);
    expect(sources.faultWithstandA2s).toContain('IEC 60364-5-54');
    expect(sources.steadyC).toMatch(/BS 7671 Table 4F2A.*10 % of the rise/);
    expect(sources.faultOneSecondA).toContain('faultWithstandA2s');
  });
  it('says which factors the permitted current holds', () => {
    const { sources } = cableFigures({ ...cable, insulation: 'rubber-85', drumLayers: 2 }, 300, 35);
    expect(sources.permittedA).toContain('BS 7671 Table 4F2A');
    expect(sources.permittedA).toContain('air of 35 °C 0.95');
    expect(sources.permittedA).toContain('2 drum layers 0.65');
    expect(sources.permittedA).toContain('insulation for 85 °C');
    expect(sources.faultWithstandA2s).toContain('134');
  });
  it('is off by a tenth of the rise, and all that follows from it by as much', () => {
    const { resistanceOhm, dropV, lossW, steadyC, at20Ohm } = cableFigures(cable, 300, 35);
    const offK = (steadyC.value - 35) / 10;
    expect(steadyC.uncertainty).toBeCloseTo(offK, 9);
    expect(steadyC.atLeast).toBeCloseTo(steadyC.value - offK, 9);
    expect(steadyC.atMost).toBeCloseTo(steadyC.value + offK, 9);
    expect(resistanceOhm.uncertainty).toBeCloseTo(at20Ohm * 0.00393 * offK, 9);
    expect(dropV.uncertainty).toBeCloseTo(300 * resistanceOhm.uncertainty, 9);
    expect(lossW.uncertainty).toBeCloseTo(300 * dropV.uncertainty, 9);
  });
  it.each([
    ['ok', 0, 'not above'],
    ['overloaded', 0.1, 'is above'],
  ])('is %s at the permitted current and %d A more, and says why', (verdict, moreA, because) => {
    const { permittedA } = cableFigures(cable, 300, 50);
    const found = cableFigures(cable, permittedA + moreA, 50);
    expect(found.verdict).toBe(verdict);
    expect(found.because).toContain(because);
    expect(cableFigures({ ...cable, mm2: 50 }, 100, 30).because).toContain('no figure');
  });
});
