/** The converter follows, falls and stops as it is told. */
import { describe, expect, it } from 'vitest';
import { tracking } from '../../../src/checks/tracking.js';
import { Run, Scene } from './build.js';
import { feed, feedMany } from './spoil.js';

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

/** First report, of at most 100, after which a code fails; 0 when it never does. */
function failsIn(run: Run<unknown>, code: string): number {
  for (let k = 1; k <= 100; k++) if (run.reports(1).failing.includes(code)) return k;
  return 0;
}
const followsAt = (change: Partial<Scene['converter']>, setpointA = 200) => {
  const run = new Run(tracking, new Scene().charging(setpointA)).reports(3);
  Object.assign(run.scene.converter, change);
  return failsIn(run as Run<unknown>, 'current-not-tracking');
};

describe('following', () => {
  // 300 ms are spanned by the seventh report, the 3 s of an overshoot by the sixty-first.
  it.each([
    ['2 % over', { outputA: 204 }, 0],
    ['2 % under', { outputA: 196 }, 0],
    ['more than 2 % under', { outputA: 195.9 }, 7],
    ['more than 2 % over, within the 5 % of an overshoot', { outputA: 204.1 }, 61],
    ['5 % over', { outputA: 210 }, 61],
    ['more than 5 % over', { outputA: 210.1 }, 7],
    ['unreadable', { outputA: Number.NaN }, 7],
    ['less where volts are within 3 V of their limit', { outputA: 120, appliedLimitV: 723 }, 0],
    ['less with more than 3 V of room', { outputA: 120, appliedLimitV: 723.1 }, 7],
    ['more at the limit of volts', { outputA: 211, appliedLimitV: 721 }, 7],
  ])('%s', (_, change, reports) => {
    expect(followsAt(change)).toBe(reports);
  });
  it.each([
    ['at 97 % of 250 kW', 303.125, 0],
    ['below that', 303.1, 7],
  ])('less than 310 A, %s: %d A of 800 V', (_, outputA, reports) => {
    expect(followsAt({ outputV: 800, appliedLimitV: 850, outputA }, 310)).toBe(reports);
  });
  it('tells how far it is off, against what, and since when', () => {
    const run = holding();
    run.reports(7, (s) => {
      s.converter.outputA = 190;
    });
    const { reading, limit, sinceMs } = run.finding('current-not-tracking');
    expect([reading, limit]).toEqual([10, 4]);
    expect(sinceMs).toBe(run.scene.nowMs - 300);
  });
  it.each(['ramping', 'tapering'] as const)('is asked while %s too', (phase) => {
    const run = holding();
    run.scene.enter(phase);
    run.scene.converter.outputA = 190;
    expect(failsIn(run as Run<unknown>, 'current-not-tracking')).toBe(7);
  });
  it.each(['ramping-down', 'tripped-ramping-down'] as const)('is judged by arrival while %s', (phase) => {
    const run = holding();
    run.scene.enter(phase);
    run.scene.converter.appliedSetpointA = 0;
    expect(run.reports(60).failing).toEqual([]);
  });
  it('is not asked before the ramp nor after it', () => {
    for (const phase of ['closing', 'opening'] as const) {
      const run = new Run(tracking, new Scene().charging(0));
      run.scene.enter(phase);
      expect(run.reports(20, (s) => Object.assign(s.converter, { outputA: 50 })).last.findings).toHaveLength(
        1,
      );
      expect(run.failing).toEqual([]);
    }
  });
});

describe('stopping', () => {
  // From 200 A at 100 A/s 2000 ms; 300 settling, 150 of reports, 1000 of margin: 3450, the first report after it
  // is the 70th after the first, and two must say so. Making safe: P at the latest after 100 ms, 40 to open, 1000.
  it.each([
    ['ramping-down', 200, 72],
    ['tripped-ramping-down', 200, 72],
    ['ramping-down', 100, 52],
    ['making-safe', 200, 25],
    ['making-safe', 100, 25],
  ] as const)('%s from %d A is given its time: fails in report %d', (phase, fromA, reports) => {
    const run = new Run(tracking, new Scene().charging(fromA)).reports(3);
    run.scene.enter(phase);
    expect(failsIn(run as Run<unknown>, 'converter-wont-stop')).toBe(reports);
    expect(run.finding('converter-wont-stop')).toMatchObject({ reading: fromA, limit: 5 });
  });
  it('has its time anew when making safe begins', () => {
    const run = holding();
    run.scene.enter('ramping-down');
    expect(run.reports(72).failing).toEqual(['converter-wont-stop']);
    run.scene.enter('making-safe');
    expect(failsIn(run as Run<unknown>, 'converter-wont-stop')).toBe(25);
  });
  it.each([
    [5, []],
    [5.1, ['converter-wont-stop']],
    [-5.1, ['converter-wont-stop']],
  ])('by the break limit: %d A left', (leftA, failing) => {
    const run = holding();
    run.scene.enter('ramping-down');
    expect(run.reports(80, (s, k) => s.amps(k < 20 ? 200 : leftA)).failing).toEqual(failing);
  });
  it('fails when no current can be read any more, and ticks alone prove nothing', () => {
    const run = holding();
    run.scene.enter('ramping-down');
    run.reports(71, (s, k) => s.amps(k < 1 ? 200 : Number.NaN));
    for (let k = 0; k < 10; k++) run.tick(25);
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['converter-wont-stop']);
  });
  it.each(['holding', 'opening', 'safe'] as const)('is not asked while %s', (phase) => {
    const run = holding();
    run.scene.enter(phase);
    expect(run.reports(80).last.findings.map((f) => f.code)).not.toContain('converter-wont-stop');
  });
});

describe('zero', () => {
  const down = () => {
    const run = holding();
    run.scene.enter('ramping-down').amps(0);
    return run;
  };
  it('needs two reports', () => {
    const run = down().reports(1);
    expect(run.proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['current-zero']);
  });
  it.each([
    ['mean', (s: Scene, a: number) => Object.assign(s.meter, { currentA: a })],
    ['peak', (s: Scene, a: number) => Object.assign(s.meter, { currentMaxA: a })],
    ['converter', (s: Scene, a: number) => Object.assign(s.converter, { outputA: a })],
  ])('is at most 5 A either way by the %s', (_, set) => {
    for (const [a, proofs] of [
      [5, ['current-zero']],
      [5.1, []],
      [-5.1, []],
      [Number.NaN, []],
    ] as const)
      expect(down().reports(3, (s) => set(s, a)).proofs).toEqual(proofs);
  });
  it.each(['meter', 'converter'] as const)('stands 400 ms on a %s that stands still', (role) => {
    const run = down().reports(3);
    run.scene.frozen.add(role);
    expect(run.reports(8).proofs).toEqual(['current-zero']);
    expect(run.reports(1).proofs).toEqual([]);
  });
  it('is not proven without a meter', () => {
    const run = down().reports(3);
    expect(feedMany(run, 3, { meter: null }).proofs).toEqual([]);
    expect(run.finding('converter-wont-stop').reading).toBeNaN();
  });
});

describe('fault', () => {
  it.each([
    [0, false],
    [1, false],
    [2, false],
    [3, true],
    [4, true],
    [-1, true],
    [Number.NaN, true],
  ])('state %d', (state, fails) => {
    const run = new Run(tracking, new Scene()).reports(1, (s) => Object.assign(s.converter, { state }));
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(fails ? ['converter-fault'] : []);
  });
  it.each(['making-safe', 'safe', 'not-proven-dead'] as const)('is no news while %s', (phase) => {
    const run = holding();
    run.scene.enter(phase);
    run.reports(3, (s) => Object.assign(s.converter, { state: 3 }));
    expect(run.last.findings.map((f) => f.code)).not.toContain('converter-fault');
  });
  it('nothing is said without a converter, nor once released; both begin anew', () => {
    const faulty = () => holding().reports(1, (s) => Object.assign(s.converter, { state: 3 }));
    const blind = faulty();
    expect(feed(blind, { converter: null }).findings).toEqual([]);
    expect(blind.reports(1).failing).toEqual([]);
    const released = faulty();
    released.scene.enter('released');
    expect(released.reports(2).last.findings).toEqual([]);
    released.scene.enter('parked');
    expect(released.reports(1).failing).toEqual([]);
  });
});
