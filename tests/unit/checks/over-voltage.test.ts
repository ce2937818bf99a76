/** Ceiling of voltage, and the jump of a lost load (≤ 110 %, IEC 61851-23 analogy, from memory). */
import { describe, expect, it } from 'vitest';
import { mostV, overVoltage } from '../../../src/checks/over-voltage.js';
import { depot, Run, Scene } from './build.js';

const holding = () => new Run(overVoltage, new Scene().charging(200)).reports(2);

describe('over-voltage', () => {
  it('is bounded by the pack at its hard cell limit: 192 × 4.20 V and 5 V of voltmeter', () => {
    expect(mostV(depot)).toBeCloseTo(811.4, 6);
    const run = holding().reports(2, (s) => s.volts('plug', 811));
    expect(run.failing).toEqual([]);
    expect(run.reports(1, (s) => s.volts('plug', 812)).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['over-voltage']);
  });
  it('fails when no voltage can be read', () => {
    expect(
      holding().reports(2, (s) => {
        s.meter.outputV = Number.NaN;
      }).failing,
    ).toContain('over-voltage');
  });
});

describe('load dump', () => {
  it('trips on one report whose peak exceeds 110 %, not on 109 %', () => {
    const run = holding().reports(1, (s) => {
      s.amps(0);
      s.meter.outputMaxV = 1.09 * 720;
    });
    expect(run.failing).toEqual([]);
    const dumped = holding().reports(1, (s) => {
      s.amps(0);
      s.meter.outputMaxV = 1.11 * 720;
    });
    expect(dumped.failing).toEqual(['load-dump']);
    expect(dumped.finding('load-dump').limit).toBeCloseTo(792, 6);
  });
  it('does not mistake the slow rise of a charge for one', () => {
    const run = holding().reports(100, (s, k) => s.volts('output', 720 + 0.8 * k));
    expect(run.failing).toEqual([]);
  });
});
