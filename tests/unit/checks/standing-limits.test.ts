/** Ratings as named limits. */
import { expect, it } from 'vitest';
import { standingLimits } from '../../../src/checks/standing-limits.js';
import { Run, Scene } from './build.js';

it('names connection and converter, the converter by current or by power', () => {
  const run = new Run(standingLimits, new Scene().charging(100)).reports(1);
  expect(run.limit('connection')).toBe(300);
  expect(run.limit('converter')).toBe(320);
  // 250 kW at 810 V.
  expect(
    run
      .reports(1, (s) => {
        s.meter.outputV = 810;
      })
      .limit('converter'),
  ).toBeCloseTo(308.64, 2);
  expect(
    run
      .reports(1, (s) => {
        s.meter.outputV = Number.NaN;
      })
      .limit('converter'),
  ).toBeCloseTo(250_000 / 850, 6);
});
