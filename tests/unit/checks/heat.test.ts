/** Cable and contact: derate, then trip; the estimate behind the sensor. */
import { describe, expect, it } from 'vitest';
import { heat, heatShare, warmCable } from '../../../src/checks/heat.js';
import { depot, Run, Scene } from './build.js';
import { feed } from './spoil.js';

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

/** Cable from 80 to 90 °C, contact from 75 to 90 °C, 300 A. */
describe('limits', () => {
  it.each([
    ['cable-derated', 'cableC', 80, 1],
    ['cable-hot', 'cableC', 90, 3],
    ['contact-derated', 'contactC', 75, 1],
    ['contact-hot', 'contactC', 90, 3],
  ] as const)('%s: %s above %d °C, in report %d', (code, key, limit, reports) => {
    const run = new Run(heat, new Scene().charging(200));
    run.reports(5, (s) => Object.assign(s.meter, { [key]: limit }));
    expect(run.finding(code).failing).toBe(false);
    run.scene.meter[key] = limit + 0.1;
    for (let k = 1; k <= 3; k++) expect(run.reports(1).finding(code).failing).toBe(k >= reports);
    expect(run.finding(code)).toMatchObject({ reading: limit + 0.1, limit, unit: 'degC' });
  });
  it.each([
    [30, 300],
    [75, 300],
    // A fifth of the way: heat falls to four fifths, the current to its root.
    [78, 300 * Math.sqrt(0.8)],
    [90, 0],
    [95, 0],
    [Number.NaN, 0],
  ])('a contact at %d °C permits %d A', (contactC, currentA) => {
    expect(at(25, contactC).limit('contact')).toBeCloseTo(currentA, 9);
  });
});

describe('the estimate behind the sensor', () => {
  /** Held for a second, the conductor estimated to be this hot, the sensor cool. */
  const estimated = (estimateC: number) => {
    const run = new Run(heat, new Scene().charging(0)).reports(1);
    run.state = { ...run.state, startC: estimateC, estimateC };
    return run.reports(3);
  };
  it('counts when it is 5 K above the limit', () => {
    expect(estimated(84.9).failing).toEqual([]);
    expect(estimated(85.1).failing).toEqual(['cable-derated']);
    expect(estimated(85.1).finding('cable-derated').reading).toBeCloseTo(80.1, 6);
    expect(estimated(95.1).failing).toEqual(['cable-derated', 'cable-hot']);
  });
  it('starts at what the sensor showed first, or at the rig’s air when it shows nothing', () => {
    const first = (cableC: number) =>
      new Run(heat, new Scene().charging(200)).reports(1, (s) => Object.assign(s.meter, { cableC })).state;
    expect(first(40)).toMatchObject({ startC: 40, estimateC: 40 });
    expect(first(Number.NaN)).toMatchObject({ startC: 35, estimateC: 35 });
  });
  it('warms with the current while it may flow, by the square of it, and cools without', () => {
    const warmedBy = (
      currentA: number,
      phase: 'holding' | 'tripped-ramping-down' | 'closing' | 'opening',
    ) => {
      const run = new Run(heat, new Scene().charging(currentA)).reports(1);
      run.scene.enter(phase);
      for (let k = 0; k < 10; k++) run.state = heat.run(run.state, run.scene.report(1000), depot).state;
      return run.state.estimateC - 25;
    };
    const once = warmedBy(100, 'holding');
    // 100 A in 8.402 mΩ at 25 °C are 84 W; through 0.042 K/W 3.53 K, of which 10 s of 1200 s bring 0.83 %.
    expect(once).toBeCloseTo(84.02 * 0.042 * (1 - Math.exp(-10 / 1200)), 4);
    expect(warmedBy(200, 'holding') / once).toBeCloseTo(4, 2);
    expect(warmedBy(100, 'tripped-ramping-down')).toBeCloseTo(once, 9);
    expect(warmedBy(100, 'closing')).toBe(0);
    expect(warmedBy(100, 'opening')).toBe(0);
  });
  it('waits through a current that cannot be read, and warms in silence', () => {
    const run = new Run(heat, new Scene().charging(300)).reports(100);
    const { estimateC } = run.state;
    expect(estimateC).toBeGreaterThan(25);
    run.reports(1, (s) => s.amps(Number.NaN));
    expect(run.state.estimateC).toBe(estimateC);
    run.scene.amps(300);
    expect(run.tick(1000).state.estimateC).toBeGreaterThan(estimateC);
    expect(run.last.findings).toEqual([]);
    expect(run.last.limits ?? []).toEqual([]);
  });
});

describe('when it speaks', () => {
  const hot = () =>
    new Run(heat, new Scene().charging(200)).reports(2, (s) => Object.assign(s.meter, { contactC: 91 }));
  it.each([
    'securing',
    'closing',
    'ramping',
    'ramping-down',
    'opening',
    'bleeding',
    'tripped-ramping-down',
  ] as const)('while %s', (phase) => {
    const run = hot();
    run.scene.enter(phase);
    expect(run.reports(1).failing).toEqual(['contact-derated', 'contact-hot']);
  });
  it.each(['parked', 'released', 'making-safe', 'safe'] as const)('not while %s; it begins anew', (phase) => {
    const run = hot();
    run.scene.enter(phase);
    expect(run.reports(1).last.findings).toEqual([]);
    expect(run.state.startC).toBeNaN();
    run.scene.enter('holding');
    expect(run.reports(2).failing).toEqual(['contact-derated']);
  });
  it('not without a meter, nor on one that stands still over 400 ms', () => {
    const run = hot();
    expect(run.tick(400).last.findings).toHaveLength(4);
    expect(run.failing).toEqual(['contact-derated']);
    expect(run.tick(1).last.findings).toEqual([]);
    expect(feed(run, { meter: null }).findings).toEqual([]);
  });
});
