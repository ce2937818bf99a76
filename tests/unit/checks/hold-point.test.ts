/** The hold point: nothing goes on before isolation and contact drop were looked at there. */
import { describe, expect, it } from 'vitest';
import { holdPoint } from '../../../src/checks/hold-point.js';
import { Run, Scene } from './build.js';
import { Poles } from './network.js';

const SOUND = { positiveOhm: 2e6, negativeOhm: 2e6, capacitanceF: 360e-9 };

function session(lineOhm: number, offsetV = 0) {
  const scene = new Scene().charging(0, 'closing');
  scene.volts('plug', 720 + offsetV);
  const poles = new Poles(720, SOUND);
  const run = new Run(holdPoint, scene);
  const step = (s: Scene): void => {
    const ask = run.last.ask ?? { point: 0, resistor: 0 };
    Object.assign(s.isolation, ask);
    poles.step(s, 50);
  };
  run.reports(20, step);
  const ramp = (currentA: number, reports: number): Run<unknown> => {
    scene.phase === 'ramping' || scene.enter('ramping');
    scene.governed.setpointA = currentA;
    scene.amps(currentA);
    scene.meter.plugV = 720 + offsetV + currentA * lineOhm;
    return run.reports(reports, step) as Run<unknown>;
  };
  return { run, ramp };
}
/** W9, 95 mm², 40 m loop: 8.240 mΩ at 20 °C; 8.402 mΩ at 25 °C. Two good contacts add 0.2 mΩ. */
const GOOD_OHM = 8.4e-3 + 0.2e-3;

describe('hold point', () => {
  it('is passed only after its time, with measurements made there', () => {
    const { run, ramp } = session(GOOD_OHM);
    ramp(10, 60);
    expect(run.proofs).not.toContain('hold-point-passed');
    ramp(30, 30);
    expect(run.proofs).not.toContain('hold-point-passed');
    ramp(30, 30);
    expect(run.proofs).toContain('hold-point-passed');
    expect(ramp(100, 5).proofs).toContain('hold-point-passed');
  });
  it('is not passed on a measurement from before', () => {
    const { run, ramp } = session(GOOD_OHM);
    ramp(10, 60);
    expect(run.proofs).toContain('isolation-joined');
    ramp(30, 10);
    expect(run.proofs).not.toContain('hold-point-passed');
  });
  it('sees a contact of 4 mΩ at a tenth of the current', () => {
    const { run, ramp } = session(GOOD_OHM + 8e-3);
    ramp(30, 60);
    expect(run.failing).toEqual(['contact-drop']);
    expect(run.proofs).not.toContain('hold-point-passed');
  });
  it('takes the voltmeters’ difference off, but none beyond plausibility', () => {
    const { run, ramp } = session(GOOD_OHM, 1.5);
    ramp(30, 60);
    expect(run.failing).toEqual([]);
    expect(run.proofs).toContain('hold-point-passed');
    const far = session(GOOD_OHM, 6);
    far.ramp(30, 60);
    expect(far.run.failing).toEqual(['contact-drop']);
  });
});
