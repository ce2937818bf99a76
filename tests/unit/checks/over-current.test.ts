/** Over the set-point: a note within 5 %, a trip beyond; and never more than the rating. */
import { describe, expect, it } from 'vitest';
import { overCurrent } from '../../../src/checks/over-current.js';
import { depot, Run, Scene } from './build.js';
import { feed, feedMany } from './spoil.js';

const at = (setpointA: number, currentA: number, phase: 'ramping' | 'holding' = 'holding') => {
  const run = new Run(overCurrent, new Scene().charging(setpointA, phase)).reports(10);
  run.scene.amps(currentA);
  return run;
};

describe('over-current', () => {
  it('notes 4 % and trips 6 % in the second report', () => {
    const noted = at(200, 208).reports(5);
    expect(noted.failing).toEqual(['overshoot-noted']);
    const over = at(200, 212).reports(1);
    expect(over.failing).toEqual([]);
    expect(over.reports(1).failing).toEqual(['over-current']);
    expect(over.finding('over-current').limit).toBeCloseTo(210, 6);
  });
  it('knows that samples of the match current may arrive in a burst when the ramp begins', () => {
    const { matchCurrentA } = depot.converter;
    const closing = () => {
      const run = new Run(overCurrent, new Scene().charging(0, 'closing')).reports(5, (s) =>
        s.amps(matchCurrentA),
      );
      run.scene.enter('ramping');
      return run;
    };
    expect(closing().burst(4, 10).failing).toEqual([]);
    expect(closing().reports(30).failing).toEqual(['over-current']);
  });
  it('sees a peak between reports', () => {
    const run = at(200, 200).reports(2, (s) => {
      s.meter.currentMaxA = 215;
    });
    expect(run.failing).toEqual(['over-current']);
  });
  it('trips above the rating even when the set-point asked for it', () => {
    const run = at(330, 330).reports(2);
    expect(run.failing).toEqual(['over-current']);
    expect(run.finding('over-current').setting).toBe('connection.ratedCurrentA');
  });
  it('lets the current follow a limit that fell at once, but not stay', () => {
    const run = at(300, 300);
    run.scene.governed.setpointA = 225;
    run.reports(16, (s, k) => s.amps(Math.max(225, 300 - 5 * k)));
    expect(run.failing).toEqual([]);
    const stays = at(300, 300);
    stays.scene.governed.setpointA = 225;
    expect(stays.reports(30).failing).toEqual(['over-current']);
  });
  it('leaves a meter that alone reads high to the comparison', () => {
    const run = at(200, 200).reports(10, (s) => Object.assign(s.meter, { currentA: 230, currentMaxA: 231 }));
    expect(run.failing).toEqual([]);
  });
  it('lets the ramp check name a step far over the set-point first', () => {
    const run = at(5, 36, 'ramping').reports(3);
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['over-current']);
  });
  it('fails on a current that cannot be read', () => {
    expect(at(200, Number.NaN).reports(2).failing).toEqual(['over-current']);
  });
});

/** Rated 300 A, converter 320 A; 5 % over the set-point, at least 2.5 A: 300 A × 1.05 = 315 A is the most of all. */
describe('what is held against it', () => {
  it.each([
    [20, 22.5, 'converter.overshootPercent'],
    [40, 42.5, 'converter.overshootPercent'],
    [200, 210, 'converter.overshootPercent'],
    [300, 315, 'connection.ratedCurrentA'],
    [310, 315, 'connection.ratedCurrentA'],
  ])('at a set-point of %d A: %d A, by %s', (setpointA, limitA, setting) => {
    const run = at(setpointA, limitA).reports(5);
    expect(run.failing).not.toContain('over-current');
    const found = run.finding('over-current');
    expect([found.limit, found.unit, found.setting]).toEqual([limitA, 'A', setting]);
    run.reports(1, (s) => s.amps(limitA + 0.01));
    expect(run.failing).not.toContain('over-current');
    expect(run.reports(1).failing).toEqual(['over-current']);
    expect(run.finding('over-current').sinceMs).toBe(run.scene.nowMs - 50);
  });
  it('notes from half the tolerance on: above 21.25 A at 20 A, up to the limit itself', () => {
    const run = at(20, 21.25).reports(3);
    expect(run.failing).toEqual([]);
    expect(run.reports(1, (s) => s.amps(21.26)).failing).toEqual(['overshoot-noted']);
    expect(run.finding('overshoot-noted').limit).toBe(20);
    expect(run.reports(1, (s) => s.amps(22.5)).failing).toEqual(['overshoot-noted']);
    expect(run.reports(1, (s) => s.amps(22.51)).failing).toEqual([]);
  });
  it.each(['ramping-down', 'tripped-ramping-down'] as const)('is the rating alone while %s', (phase) => {
    const run = at(100, 315);
    run.scene.enter(phase);
    expect(run.reports(5).failing).toEqual([]);
    expect(run.last.findings.map((f) => f.code)).toEqual(['over-current']);
    expect(run.reports(2, (s) => s.amps(315.1)).failing).toEqual(['over-current']);
  });
  it.each(['ramping', 'holding', 'tapering'] as const)('is the set-point while %s', (phase) => {
    const run = at(200, 200);
    run.scene.enter(phase);
    expect(run.reports(2, (s) => s.amps(211)).failing).toEqual(['over-current']);
  });
  it.each(['parked', 'closing', 'opening', 'making-safe', 'safe'] as const)(
    'is nothing while %s',
    (phase) => {
      const run = at(200, 250).reports(1);
      run.scene.enter(phase);
      expect(run.reports(3).last.findings).toEqual([]);
    },
  );
  it('follows a set-point that fell no slower than 80 A/s, once it is 300 ms old', () => {
    const run = at(300, 300);
    run.scene.governed.setpointA = 100;
    run.scene.amps(100);
    expect(run.reports(6).finding('over-current').limit).toBe(315);
    // Ten more reports: 300 A − 10 × 4 A, and 5 % on it.
    expect(run.reports(10).finding('over-current').limit).toBeCloseTo(1.05 * 260, 6);
    expect(run.reports(60).finding('over-current').limit).toBeCloseTo(105, 6);
  });
});

describe('a step', () => {
  it.each([
    ['exactly 20 % over is no step', 200, 240, 2],
    ['a little more is', 200, 240.1, 4],
    ['up to the rating and 5 %', 200, 315, 4],
    ['beyond the rating nothing is waited for', 200, 315.1, 2],
  ])('%s', (_, setpointA, currentA, reports) => {
    const run = at(setpointA, currentA).reports(reports - 1);
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['over-current']);
  });
});

describe('instruments', () => {
  it('takes the peak while meter and converter are no more than 3 A apart', () => {
    const apart = (outputA: number) =>
      at(40, 40).reports(2, (s) => {
        s.meter.currentMaxA = 45;
        s.converter.outputA = outputA;
      }).failing;
    expect(apart(43)).toEqual(['over-current']);
    expect(apart(43.1)).toEqual([]);
  });
  it('fails without a converter to compare with', () => {
    const run = at(200, 200);
    expect(feedMany(run, 2, { converter: null }).findings.find((f) => f.failing)?.code).toBe('over-current');
  });
  it('says nothing without a meter, or when it stands still for longer than 400 ms', () => {
    expect(feed(at(200, 200), { meter: null }).findings).toEqual([]);
    const run = at(200, 212).reports(1);
    run.scene.frozen.add('meter');
    expect(run.reports(8).last.findings).toHaveLength(2);
    expect(run.failing).toEqual([]);
    expect(run.tick(1).last.findings).toEqual([]);
  });
  it('counts anew after a silence, and still knows where the current came from', () => {
    const run = at(300, 316).reports(1);
    run.tick(401);
    expect(run.reports(1).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['over-current']);
    const falling = at(300, 300);
    falling.scene.governed.setpointA = 100;
    falling.tick(401);
    // Nothing was judged in the silence: the reference comes down from where it stood, by one report.
    expect(falling.reports(1).finding('over-current').limit).toBeCloseTo(1.05 * 296, 6);
  });
});
