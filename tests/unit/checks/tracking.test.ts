/** The converter follows, falls and stops as it is told. */
import { describe, expect, it } from 'vitest';
import { tracking } from '../../../src/checks/tracking.js';
import { Run, Scene } from './build.js';

const holding = () => new Run(tracking, new Scene().charging(200)).reports(3);

describe('tracking', () => {
  it('tolerates 2 % and no more, after the time to settle', () => {
    expect(
      holding().reports(20, (s) => {
        s.converter.outputA = 203.9;
      }).failing,
    ).toEqual([]);
    const off = holding().reports(5, (s) => {
      s.converter.outputA = 190;
    });
    expect(off.failing).toEqual([]);
    expect(off.reports(3).failing).toEqual(['current-not-tracking']);
  });
  it('gives an overshoot within its 5 % the time to die away, and no more', () => {
    const over = holding().reports(50, (s) => {
      s.converter.outputA = 208;
    });
    expect(over.failing).toEqual([]);
    expect(over.reports(15).failing).toEqual(['current-not-tracking']);
  });
  it('does not count ticks towards the time', () => {
    const off = holding().reports(1, (s) => {
      s.converter.outputA = 190;
    });
    for (let k = 0; k < 40; k++) off.tick(25);
    expect(off.failing).toEqual([]);
  });
  it('forgives less current where the voltage limit governs', () => {
    const bound = holding().reports(20, (s) => {
      s.converter.outputA = 120;
      s.converter.appliedLimitV = 721;
    });
    expect(bound.failing).toEqual([]);
  });
  it('proves zero only below the break limit, ordered and measured', () => {
    const run = holding();
    run.scene.enter('ramping-down');
    expect(
      run.reports(5, (s) => {
        s.amps(4);
        s.ordered.setpointA = 10;
      }).proofs,
    ).toEqual([]);
    expect(
      run.reports(3, (s) => {
        s.ordered.setpointA = 0;
      }).proofs,
    ).toEqual(['current-zero']);
    expect(
      run.reports(1, (s) => {
        s.meter.currentMaxA = 6;
      }).proofs,
    ).toEqual([]);
  });
  it('names a converter that does not stop, after the ramp it should have needed', () => {
    const run = holding();
    run.scene.enter('ramping-down');
    // 200 A at 100 A/s: 2 s, and what settling, reports and a second of margin add.
    expect(run.reports(60).failing).toEqual([]);
    expect(run.reports(15).failing).toEqual(['converter-wont-stop']);
  });
  it('lets one that ramps down do so', () => {
    const run = holding();
    run.scene.enter('ramping-down');
    run.reports(80, (s, k) => s.amps(Math.max(0, 200 - 5 * k)));
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual(['current-zero']);
  });
  it('refuses by a fault of the converter while parked', () => {
    const run = new Run(tracking, new Scene()).reports(2, (s) => {
      s.converter.state = 3;
    });
    expect(run.failing).toEqual(['converter-fault']);
    expect(
      new Run(tracking, new Scene()).reports(2, (s) => {
        s.converter.state = Number.NaN;
      }).failing,
    ).toEqual(['converter-fault']);
  });
});
