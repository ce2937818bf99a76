/** Drop across the contacts at full current, without any sensor in them. */
import { describe, expect, it } from 'vitest';
import { contactDrop } from '../../../src/checks/contact-drop.js';
import { Run, Scene } from './build.js';

function at(currentA: number, contactOhm: number, cableC = 70) {
  const scene = new Scene().charging(currentA);
  scene.meter.cableC = cableC;
  // W9 (IEC 60228, published): 95 mm², 40 m loop, 9.859 mΩ at 70 °C, 2.958 V at 300 A.
  scene.meter.plugV = scene.train.trainV + currentA * (9.859e-3 + 2 * contactOhm);
  return new Run(contactDrop, scene);
}

describe('contact drop', () => {
  it('finds nothing beyond the cable at W9', () => {
    const run = at(300, 0).reports(40);
    expect(run.failing).toEqual([]);
    expect(Math.abs(run.finding('contact-drop').reading)).toBeLessThan(0.003);
  });
  it('passes 0.3 mΩ and fails 0.4 mΩ at 300 A against 0.1 V', () => {
    expect(at(300, 0.3e-3).reports(40).failing).toEqual([]);
    const run = at(300, 0.4e-3).reports(40);
    expect(run.failing).toEqual(['contact-drop']);
    expect(run.finding('contact-drop').reading).toBeCloseTo(0.12, 2);
  });
  it('judges an average, not the first samples', () => {
    expect(at(300, 0.4e-3).reports(15).failing).toEqual([]);
  });
  it('keeps silent at a current too small to tell', () => {
    expect(at(20, 2e-3).reports(40).last.findings).toEqual([]);
  });
  it('leaves a contact that lifts to those who see it', () => {
    const run = at(300, 0).reports(40);
    run.reports(2, (s) => {
      s.meter.plugV = 790;
    });
    expect(run.failing).toEqual([]);
  });
  it('fails on volts that cannot be read', () => {
    expect(
      at(300, 0)
        .reports(40)
        .reports(6, (s) => {
          s.meter.plugV = Number.NaN;
        }).failing,
    ).toEqual(['contact-drop']);
  });
});
