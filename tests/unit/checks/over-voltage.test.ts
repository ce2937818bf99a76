/** Ceiling of voltage, and the jump of a lost load (≤ 110 %, IEC 61851-23 analogy, from memory). */
import { describe, expect, it } from 'vitest';
import { mostV, overVoltage } from '../../../src/checks/over-voltage.js';
import { depot, Run, Scene } from './build.js';
import { feed } from './spoil.js';

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

describe('the most it may be', () => {
  it.each(['outputV', 'outputMaxV', 'plugV', 'plugMaxV'] as const)('by %s, and no more than that', (key) => {
    const run = holding().reports(3, (s) => Object.assign(s.meter, { [key]: mostV(depot) }));
    expect(run.finding('over-voltage').failing).toBe(false);
    run.reports(1, (s) => Object.assign(s.meter, { [key]: mostV(depot) + 0.1 }));
    expect(run.finding('over-voltage').failing).toBe(false);
    run.reports(1);
    expect(run.finding('over-voltage')).toMatchObject({
      failing: true,
      reading: mostV(depot) + 0.1,
      unit: 'V',
    });
  });
  it('is the converter’s where that is lower', () => {
    expect(mostV({ ...depot, converter: { ...depot.converter, maxVoltageV: 790 } })).toBe(795);
  });
  it.each([
    'joining-train',
    'matching-voltage',
    'closing',
    'ramping',
    'ramping-down',
    'opening',
    'parting-train',
    'bleeding',
    'tripped-ramping-down',
  ] as const)('is asked while %s', (phase) => {
    const run = holding();
    run.scene.enter(phase);
    expect(run.reports(2, (s) => s.volts('plug', 812)).failing).toEqual(['over-voltage']);
  });
  it.each(['parked', 'checking-isolation', 'released', 'making-safe'] as const)(
    'is not while %s, and begins anew after it',
    (phase) => {
      const run = holding().reports(1, (s) => s.volts('plug', 812));
      run.scene.enter(phase);
      expect(run.reports(1).last.findings).toEqual([]);
      run.scene.enter('holding');
      expect(run.reports(1).failing).toEqual([]);
    },
  );
  it('says nothing without a meter, and a tick is no second report', () => {
    const run = holding().reports(1, (s) => s.volts('plug', 812));
    expect(run.tick(25).failing).toEqual([]);
    expect(feed(run, { meter: null }).findings).toEqual([]);
  });
});

describe('the voltage before a load is lost', () => {
  const dump = (run: Run<unknown>, outputMaxV: number) =>
    run.reports(1, (s) => {
      s.amps(0);
      s.meter.outputMaxV = outputMaxV;
    }).failing;
  it('may rise to 110 % exactly', () => {
    expect(dump(holding() as Run<unknown>, 1.1 * 720)).toEqual([]);
    expect(dump(holding() as Run<unknown>, 1.1 * 720 + 0.1)).toEqual(['load-dump']);
  });
  it.each([
    [5, []],
    [5.1, ['load-dump']],
  ])('counts only above the break limit: %d A', (currentA, failing) => {
    const run = new Run(overVoltage, new Scene().charging(currentA)).reports(3);
    expect(dump(run as Run<unknown>, 800)).toEqual(failing);
  });
  it.each([
    ['ramping', ['load-dump']],
    ['tripped-ramping-down', ['load-dump']],
    ['opening', []],
    ['closing', []],
  ] as const)('is held against while %s: %s', (phase, failing) => {
    const run = holding();
    run.scene.enter(phase);
    expect(dump(run as Run<unknown>, 800)).toEqual(failing);
  });
  it('is none before the ramp, whatever a meter shows', () => {
    const run = new Run(overVoltage, new Scene().charging(50, 'closing')).reports(3);
    run.scene.enter('ramping');
    expect(dump(run as Run<unknown>, 800)).toEqual([]);
  });
  it('is the newest one', () => {
    const run = holding().reports(2, (s) => s.volts('output', 730));
    expect(dump(run as Run<unknown>, 1.1 * 730)).toEqual([]);
    expect(dump(run as Run<unknown>, 1.1 * 730 + 0.1)).toEqual(['load-dump']);
  });
  it('stays what it was while the rise lasts, current or none, and after it', () => {
    const run = holding().reports(3, (s) => s.volts('output', 800));
    expect(run.failing).toEqual(['load-dump']);
    const { limit, sinceMs } = run.finding('load-dump');
    expect(limit).toBeCloseTo(792, 9);
    expect(sinceMs).toBe(run.scene.nowMs - 100);
    run.reports(2, (s) => s.volts('output', 750).amps(0));
    expect(run.failing).toEqual([]);
    expect(run.finding('load-dump').limit).toBeCloseTo(792, 9);
  });
  it('is not lost by one that cannot be read', () => {
    const run = holding().reports(1, (s) => Object.assign(s.meter, { outputV: Number.NaN }));
    run.scene.meter.outputV = 720;
    expect(dump(run as Run<unknown>, 800)).toEqual(['load-dump']);
  });
  it('fails when the peak cannot be read', () => {
    expect(dump(holding() as Run<unknown>, Number.NaN)).toContain('load-dump');
  });
});
