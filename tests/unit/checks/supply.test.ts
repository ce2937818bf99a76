/** The supply: ready, folded back, sagging. G3 floors of W22: 340 V, 46.5 Hz. */
import { describe, expect, it } from 'vitest';
import { supply } from '../../../src/checks/supply.js';
import type { Phase } from '../../../src/rig/roles.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, Run, Scene, shoes } from './build.js';
import { feed, feedMany } from './spoil.js';

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

type Supply = Partial<Scene['supply']>;
const weak = (change: Supply = { voltageV: 339 }) =>
  holding().reports(1, (s) => Object.assign(s.supply, change));
const withSupply = (change: Partial<Rig['supply']>): Rig => ({
  ...depot,
  supply: { ...depot.supply, ...change },
});

describe('what counts as weak', () => {
  // An engine-driven set at 46.5 Hz and 340 V; a store at 600 V, which has no frequency.
  it.each([
    [depot, { frequencyHz: 46.5, voltageV: 340 }, []],
    [depot, { frequencyHz: 46.4, voltageV: 400 }, ['supply-derated']],
    [depot, { frequencyHz: Number.NaN, voltageV: 400 }, ['supply-derated']],
    [depot, { frequencyHz: 50, voltageV: 339.9 }, ['supply-derated']],
    [depot, { frequencyHz: 50, voltageV: Number.NaN }, ['supply-derated']],
    [shoes, { frequencyHz: Number.NaN, voltageV: 600 }, []],
    [shoes, { frequencyHz: Number.NaN, voltageV: 599.9 }, ['supply-derated']],
    [withSupply({ kind: 'store' }), { frequencyHz: 10, voltageV: 400 }, []],
  ] as [Rig, Supply, string[]][])('%#: %j', (rig, change, failing) => {
    const run = new Run(supply, new Scene(rig).charging(250));
    Object.assign(run.scene.supply, { frequencyHz: 50, voltageV: 700, ...change });
    expect(run.reports(1).failing).toEqual(failing);
  });
  it('asks no frequency of a set whose rig holds none', () => {
    const { minFrequencyHz: _, ...rest } = depot.supply;
    const run = new Run(supply, new Scene({ ...depot, supply: rest }).charging(250));
    run.scene.supply.frequencyHz = 10;
    expect(run.reports(2).failing).toEqual([]);
    expect(run.finding('supply-derated').unit).toBe('V');
  });
  it.each([
    ['the voltage while all is well', depot, {}, [400, 340, 'V', 'supply.minVoltageV']],
    [
      'the voltage at the least frequency',
      depot,
      { frequencyHz: 46.5 },
      [400, 340, 'V', 'supply.minVoltageV'],
    ],
    ['the frequency that is low', depot, { frequencyHz: 46 }, [46, 46.5, 'Hz', 'supply.minFrequencyHz']],
    ['the voltage that is low', depot, { voltageV: 330 }, [330, 340, 'V', 'supply.minVoltageV']],
    [
      'the frequency of both',
      depot,
      { frequencyHz: 46, voltageV: 330 },
      [46, 46.5, 'Hz', 'supply.minFrequencyHz'],
    ],
    [
      'no frequency of a store',
      withSupply({ kind: 'store' }),
      { frequencyHz: 46 },
      [400, 340, 'V', 'supply.minVoltageV'],
    ],
  ] as [string, Rig, Supply, unknown[]][])('tells %s', (_, rig, change, told) => {
    const run = new Run(supply, new Scene(rig).charging(250)).reports(1, (s) =>
      Object.assign(s.supply, change),
    );
    for (const code of ['supply-derated', 'supply-sagging'] as const) {
      const { reading, limit, unit, setting } = run.finding(code);
      expect([reading, limit, unit, setting]).toEqual(told);
    }
  });
});

describe('folding back', () => {
  // A quarter of 300 A in a second: 3.75 A in each report.
  it.each([
    [250, 246.25],
    [320, 296.25],
    [2, 0],
    [-20, 0],
  ])('holds what flows, %d A, and takes 3.75 A of it', (currentA, limitA) => {
    const run = new Run(supply, new Scene().charging(currentA));
    expect(run.reports(1, (s) => Object.assign(s.supply, { voltageV: 339 })).limit('supply')).toBe(limitA);
  });
  it('goes on from where it is, or from what still flows where that is less', () => {
    const run = weak();
    expect(run.reports(1).limit('supply')).toBe(242.5);
    expect(run.reports(1, (s) => s.amps(100)).limit('supply')).toBe(96.25);
    expect(run.tick(25).limit('supply')).toBe(94.375);
  });
  it('permits nothing while the current cannot be read, and gives back afterwards', () => {
    const run = weak();
    expect(run.reports(1, (s) => s.amps(Number.NaN)).limit('supply')).toBe(0);
    expect(feed(weak(), { meter: null }).limits).toEqual([{ limit: 'supply', currentA: 0 }]);
    run.scene.supply.voltageV = 400;
    run.scene.amps(0);
    // Half of 20 A/s.
    expect(run.reports(20).limit('supply')).toBeCloseTo(10, 9);
    expect(run.failing).toEqual(['supply-derated']);
  });
  it('is given back up to the rating, and then is none', () => {
    const run = weak();
    run.scene.supply.voltageV = 400;
    // 53.75 A at 10 A/s: 107.5 reports.
    expect(run.reports(107).limit('supply')).toBeCloseTo(246.25 + 53.5, 9);
    expect(run.failing).toEqual(['supply-derated']);
    expect(run.reports(1).failing).toEqual([]);
  });
  it('is forgotten where no current is drawn', () => {
    const run = weak();
    run.scene.enter('closing');
    run.reports(1).scene.enter('holding');
    run.scene.supply.voltageV = 400;
    expect(run.reports(1).failing).toEqual([]);
  });
});

describe('time to recover', () => {
  it('is 3 s of reports', () => {
    const run = weak().reports(59);
    expect(run.failing).toEqual(['supply-derated']);
    expect(run.tick(25).failing).toEqual(['supply-derated']);
    expect(run.reports(1).failing).toEqual(['supply-derated', 'supply-sagging']);
  });
  it('is not counted before current is drawn', () => {
    const run = new Run(supply, new Scene().charging(0, 'closing'));
    run.scene.supply.voltageV = 0;
    const { findings, limits } = run.reports(100).last;
    expect(findings.map((f) => f.code)).toEqual(['supply-not-ready']);
    expect(limits).toBeUndefined();
    run.scene.enter('ramping');
    expect(run.reports(60).failing).toEqual(['supply-derated']);
  });
});

describe('what its power leaves', () => {
  // 400 kW less 1.5 kW, over the volts (at least 400 V) and 8 V.
  it.each([
    [800, 398_500 / 808],
    [400, 398_500 / 408],
    [100, 398_500 / 408],
    [Number.NaN, 0],
  ])('at %d V: %d A', (outputV, currentA) => {
    const run = holding().reports(1, (s) => Object.assign(s.meter, { outputV }));
    expect(run.limit('supply')).toBeCloseTo(currentA, 9);
  });
  it('is nothing without a meter, and on a reading older than 2 s', () => {
    expect(feed(holding(), { meter: null }).limits).toEqual([{ limit: 'supply', currentA: 0 }]);
    const run = holding();
    run.scene.frozen.add('supply');
    expect(run.reports(40).limit('supply')).toBeGreaterThan(500);
    expect(run.tick(1).limit('supply')).toBe(0);
  });
});

describe('when it speaks', () => {
  const open = (phase: Phase) => {
    const run = holding().reports(1, (s) => Object.assign(s.supply, { ready: 0 }));
    run.scene.enter(phase);
    return run.reports(1);
  };
  it.each(['parked', 'securing', 'closing', 'ramping', 'ramping-down', 'tripped-ramping-down'] as Phase[])(
    'while %s',
    (phase) => {
      expect(open(phase).failing).toEqual(['supply-not-ready']);
      expect(open(phase).finding('supply-not-ready')).toMatchObject({ reading: 0, limit: 1 });
    },
  );
  it.each(['opening', 'bleeding', 'released', 'making-safe', 'safe'] as Phase[])(
    'not while %s; it begins anew',
    (phase) => {
      const run = open(phase);
      expect(run.last.findings).toEqual([]);
      run.scene.enter('holding');
      expect(run.reports(1).failing).toEqual([]);
    },
  );
  it('not without a reading, and a tick is no second one', () => {
    const run = holding().reports(1, (s) => Object.assign(s.supply, { ready: 0 }));
    expect(run.tick(25).failing).toEqual([]);
    expect(feedMany(run, 2, { supply: null }).findings).toEqual([]);
  });
});
