/** Pre-charge against W7: 750 V, 5 mF, 100 Ω: τ 0.5 s, 95 % at 1.498 s, within 20 V at 1.812 s. */
import { describe, expect, it } from 'vitest';
import { precharge, timeConstantS } from '../../../src/checks/precharge.js';
import type { Rig } from '../../../src/rig/schema.js';
import { Run, Scene, yard } from './build.js';

const rig: Rig = {
  ...yard,
  converter: { ...yard.converter, capacitanceF: 5e-3 },
  contactors: { ...yard.contactors, matchV: 20 },
  precharge: { resistorOhm: 100, maxS: 3, side: 'train' },
};
function charge(tauS: number, reports: number, stopsAtV = 750) {
  const scene = new Scene(rig).enter('pre-charging').volts('plug', 750);
  return new Run(precharge, scene).reports(reports, (s, k) => {
    s.volts('output', Math.min(stopsAtV, 750 * (1 - Math.exp((-k * 0.05) / tauS))));
  });
}

describe('pre-charge, W7', () => {
  it('is within 20 V at 1.812 s: proven three samples later, not before', () => {
    expect(charge(0.5, 37).proofs).toEqual([]);
    expect(charge(0.5, 38 + 3).proofs).toEqual(['pre-charged']);
    expect(charge(0.5, 41).failing).toEqual([]);
  });
  it('reads the time constant off two differences', () => {
    expect(timeConstantS(750, 750 * 0.05, 1.498)).toBeCloseTo(0.5, 3);
    expect(timeConstantS(100, 100, 1)).toBe(Number.POSITIVE_INFINITY);
  });
  it('names a bridged resistor at once, and proves nothing with it', () => {
    const run = charge(0.0025, 2);
    expect(run.failing).toEqual(['precharge-resistor-shorted']);
    expect(run.reports(10, (s) => s.volts('output', 750)).proofs).toEqual([]);
    expect(run.failing).toContain('precharge-resistor-shorted');
  });
  it('takes 30 % of tolerance for tolerance', () => {
    expect(charge(0.35, 60).failing).toEqual([]);
    expect(charge(0.65, 55).failing).toEqual([]);
  });
  it('fails in time when the bus does not get there', () => {
    expect(charge(0.5, 60, 600).failing).toEqual([]);
    expect(charge(0.5, 62, 600).failing).toEqual(['precharge-failed']);
  });
  it('has nothing to say on a rig whose converter matches', () => {
    expect(new Run(precharge, new Scene().enter('pre-charging')).reports(3).last.findings).toEqual([]);
  });
});
