/** Slope, hold point and end of the ramp. W22: 20 A/s at 750 V is 15 kW/s. */
import { describe, expect, it } from 'vitest';
import { ramp } from '../../../src/checks/ramp.js';
import { Run, Scene } from './build.js';

function ramping(fromA: number, aPerS: number, reports: number) {
  const run = new Run(ramp, new Scene().charging(fromA, 'ramping'));
  return run.reports(reports, (s, k) => {
    const a = fromA + aPerS * 0.05 * (k + 1);
    s.governed.setpointA = a;
    // 1 % ripple, as instants of it fall into the reports.
    s.amps(a * (1 + 0.005 * Math.sin(k * 2.1)));
  });
}

describe('slope', () => {
  it('lets the governed slope with ripple pass', () => {
    expect(ramping(0, 20, 290).failing).toEqual([]);
  });
  it('does not let three times the slope pass', () => {
    const run = new Run(ramp, new Scene().charging(100, 'ramping')).reports(40, (s, k) =>
      s.amps(100 + 3 * k),
    );
    expect(run.failing).toEqual(['current-too-steep']);
    expect(run.finding('current-too-steep').reading).toBeGreaterThan(50);
  });
  it('calls a step of 30 A at the first step of the ramp in the second report', () => {
    const run = ramping(0, 20, 4);
    run.reports(1, (s) => s.amps(34));
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['current-too-steep']);
    expect(run.finding('current-too-steep').sinceMs).toBe(run.scene.nowMs - 50);
  });
  it('leaves a meter that jumps alone to the check that compares instruments', () => {
    const run = ramping(100, 20, 10).reports(3, (s) => {
      s.meter.currentA = 150;
    });
    expect(run.failing).toEqual([]);
  });
  it('leaves an overshoot of a few percent to the over-current check', () => {
    const run = ramping(240, 20, 10);
    run.reports(4, (s) => s.amps(s.governed.setpointA * 1.1));
    expect(run.failing).toEqual([]);
  });
  it('says nothing of a current that falls', () => {
    expect(ramping(200, -100, 20).failing).toEqual([]);
  });
});

describe('where the ramp stands', () => {
  it('is at the hold point when set-point and current stand there', () => {
    const run = ramping(0, 20, 5);
    expect(run.proofs).toEqual([]);
    run.scene.governed.setpointA = 30;
    expect(run.reports(3, (s) => s.amps(24)).proofs).toEqual([]);
    expect(run.reports(3, (s) => s.amps(30)).proofs).toEqual(['at-hold-point']);
  });
  it('does not take the wait at the hold point for the limit', () => {
    const run = ramping(0, 20, 5);
    Object.assign(run.scene.governed, { setpointA: 30, leastLimitA: 30 });
    expect(run.reports(40, (s) => s.amps(30)).proofs).toEqual(['at-hold-point']);
  });
  it('is at the limit only when the limit stands still', () => {
    const run = ramping(100, 20, 10);
    Object.assign(run.scene.governed, { setpointA: 200, leastLimitA: 200 });
    expect(run.reports(6, (s) => s.amps(200)).proofs).toEqual(['at-limit']);
    const folding = ramping(100, 20, 10).reports(20, (s, k) => {
      Object.assign(s.governed, { setpointA: 200 - 3 * k, leastLimitA: 200 - 3 * k });
      s.amps(200 - 3 * k);
    });
    expect(folding.proofs).toEqual([]);
  });
});
