/** Cable and contact: derate, then trip; the estimate behind the sensor. */
import { describe, expect, it } from 'vitest';
import { heat, heatShare, warmCable } from '../../../src/checks/heat.js';
import { depot, Run, Scene } from './build.js';

const at = (cableC: number, contactC = 30) =>
  new Run(heat, new Scene().charging(200)).reports(4, (s) => Object.assign(s.meter, { cableC, contactC }));

describe('heat', () => {
  it('leaves the full rating below the derating temperature, none at the limit, its root between', () => {
    expect(at(79).limit('cable')).toBe(300);
    expect(at(85).limit('cable')).toBeCloseTo(300 * Math.SQRT1_2, 6);
    expect(at(91).limit('cable')).toBe(0);
    expect(heatShare(Number.NaN, 80, 90)).toBe(0);
  });
  it('says who governs, and trips above the limit in the third sample', () => {
    expect(at(85).failing).toEqual(['cable-derated']);
    const run = new Run(heat, new Scene().charging(200)).reports(2, (s) => {
      s.meter.cableC = 91;
    });
    expect(run.failing).toEqual(['cable-derated']);
    expect(run.reports(1).failing).toEqual(['cable-derated', 'cable-hot']);
    expect(at(30, 95).failing).toEqual(['contact-derated', 'contact-hot']);
  });
  it('takes a sensor that cannot be read for hot', () => {
    const run = at(Number.NaN);
    expect(run.failing).toEqual(['cable-derated', 'cable-hot']);
    expect(run.limit('cable')).toBe(0);
  });
  it('W9: 300 A settle 95 mm², 40 m at 70 °C conductor with 887 W', () => {
    // One very long step ends where heat and cooling balance: ambient + 887.3 W × K/W.
    const settledC = warmCable(depot, 70, 30, 300, 1e9);
    expect(settledC).toBeCloseTo(30 + 887.3 * depot.connection.cable.thermalResistanceKPerW, 0);
    const afterOneTau = warmCable(depot, 70, 30, 300, depot.connection.cable.thermalTimeConstantS);
    expect((70 - afterOneTau) / (70 - settledC)).toBeCloseTo(1 - Math.exp(-1), 6);
  });
  it('does not believe a sensor that stays cool under current for ever', () => {
    const run = new Run(heat, new Scene().charging(600)).reports(1);
    // Four hours of 600 A in steps of half a minute; the sensor lies on the floor.
    for (let k = 0; k < 480; k++) run.scene.nowMs += 29_950;
    run.reports(1);
    for (let k = 0; k < 300; k++) {
      run.state = heat.run(run.state, run.scene.report(30_000), depot).state;
    }
    run.reports(4);
    expect(run.failing).toContain('cable-hot');
    expect(run.scene.meter.cableC).toBe(25);
  });
});
