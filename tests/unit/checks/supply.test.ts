/** The supply: ready, folded back, sagging. G3 floors of W22: 340 V, 46.5 Hz. */
import { describe, expect, it } from 'vitest';
import { supply } from '../../../src/checks/supply.js';
import { Run, Scene } from './build.js';

const holding = () => new Run(supply, new Scene().charging(250)).reports(3);

describe('supply', () => {
  it('refuses when not ready or its breaker is open', () => {
    for (const spoil of [{ ready: 0 }, { breakerClosed: 0 }, { ready: Number.NaN }]) {
      const run = new Run(supply, new Scene()).reports(2, (s) => Object.assign(s.supply, spoil));
      expect(run.failing).toEqual(['supply-not-ready']);
    }
  });
  it('does not bind while strong', () => {
    const run = holding();
    expect(run.failing).toEqual([]);
    // 400 kW less no-load loss, over 720 V and 8 V of conduction loss.
    expect(run.limit('supply')).toBeCloseTo((400_000 - 1500) / 728, 6);
  });
  it('holds the current at once, then folds it back, then gives it back slowly', () => {
    const run = holding().reports(1, (s) => {
      s.supply.frequencyHz = 46.4;
    });
    expect(run.failing).toEqual(['supply-derated']);
    expect(run.limit('supply')).toBeLessThanOrEqual(250);
    run.reports(20, (s) => s.amps(Math.min(250, run.limit('supply'))));
    expect(run.limit('supply')).toBeLessThan(185);
    const lowest = run.limit('supply');
    run.reports(20, (s) => {
      s.supply.frequencyHz = 50;
    });
    expect(run.limit('supply') - lowest).toBeCloseTo(10, 0);
    expect(run.failing).toEqual(['supply-derated']);
    expect(run.reports(300).failing).toEqual([]);
  });
  it('trips when it does not recover in time, by frequency or by voltage', () => {
    const run = holding().reports(59, (s) => {
      s.supply.voltageV = 339;
    });
    expect(run.failing).toEqual(['supply-derated']);
    expect(run.reports(3).failing).toEqual(['supply-derated', 'supply-sagging']);
    expect(run.finding('supply-sagging').setting).toBe('supply.minVoltageV');
    expect(
      holding().reports(62, (s) => {
        s.supply.frequencyHz = Number.NaN;
      }).failing,
    ).toContain('supply-sagging');
  });
  it('grants nothing on an old reading', () => {
    const run = holding();
    run.scene.frozen.add('supply');
    expect(run.reports(41).limit('supply')).toBe(0);
  });
});
