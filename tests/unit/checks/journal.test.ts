/** The record lags or fails. */
import { expect, it } from 'vitest';
import { journal } from '../../../src/checks/journal.js';
import { Run, Scene } from './build.js';

it('says since when the record lags, and stops saying so', () => {
  const run = new Run(journal, new Scene().charging(100)).reports(2);
  expect(run.failing).toEqual([]);
  const limit = run.scene.rig.journal.maxLagMs;
  expect(
    run.reports(1, (s) => {
      s.journal.lagMs = limit;
    }).failing,
  ).toEqual([]);
  run.reports(3, (s) => {
    s.journal.lagMs = limit + 1;
  });
  expect(run.failing).toEqual(['journal-lag']);
  expect(run.finding('journal-lag').sinceMs).toBe(run.scene.nowMs - 100);
  expect(
    run.reports(1, (s) => {
      s.journal.lagMs = 0;
    }).failing,
  ).toEqual([]);
});
it('takes a failed record and an unknown lag for failing', () => {
  const run = new Run(journal, new Scene().charging(100)).reports(1, (s) => {
    s.journal.failed = true;
  });
  expect(run.failing).toEqual(['journal-failed']);
  expect(
    run.reports(1, (s) => Object.assign(s.journal, { failed: false, lagMs: Number.NaN })).failing,
  ).toEqual(['journal-lag']);
});
