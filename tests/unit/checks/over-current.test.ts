/** Over the set-point: a note within 5 %, a trip beyond; and never more than the rating. */
import { describe, expect, it } from 'vitest';
import { overCurrent } from '../../../src/checks/over-current.js';
import { depot, Run, Scene } from './build.js';

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
