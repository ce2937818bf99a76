/** A pack that feeds the charger, and the pulse that is none. */
import { expect, it } from 'vitest';
import { reverseCurrent } from '../../../src/checks/reverse-current.js';
import { depot, Run, Scene } from './build.js';
import { feed } from './spoil.js';

const holding = () => new Run(reverseCurrent, new Scene().charging(200)).reports(2);

it('trips on the first report that was negative throughout', () => {
  expect(holding().reports(1, (s) => s.amps(-29)).failing).toEqual(['reverse-current']);
});
it('wants a second report when only the instant was negative', () => {
  const run = holding().reports(1, (s) => Object.assign(s.meter, { currentA: -29, currentMaxA: 200 }));
  expect(run.failing).toEqual([]);
  expect(run.reports(1).failing).toEqual(['reverse-current']);
});
it('lets the pulse at closing and the noise at zero pass', () => {
  const run = holding().reports(1, (s) =>
    Object.assign(s.meter, { currentA: 1, currentMinA: -180, currentMaxA: 60 }),
  );
  expect(run.failing).toEqual([]);
  expect(run.reports(10, (s) => s.amps(-2.5)).failing).toEqual([]);
  expect(run.reports(2, (s) => s.amps(-3.5)).failing).toEqual(['reverse-current']);
});
it('leaves the bleeder on a welded pole to the check that knows it', () => {
  const run = holding();
  run.scene.enter('opening');
  expect(run.reports(5, (s) => s.amps(-12)).last.findings).toEqual([]);
});
it.each([
  [-3, -3, 0],
  [-3.1, -3, 2],
  [-3.1, -3.1, 1],
  [-3.1, Number.NaN, 2],
  [Number.NaN, 200, 2],
])(
  'by the 3 A a meter may show at none: %d A, at most %d A, fails in report %d',
  (currentA, currentMaxA, reports) => {
    const run = holding();
    Object.assign(run.scene.meter, { currentA, currentMaxA });
    const failedIn = [1, 2, 3].find(() => run.reports(1).failing.length > 0) ?? 0;
    expect(failedIn).toBe(reports);
    expect(run.finding('reverse-current')).toMatchObject({ reading: currentA, limit: -3, unit: 'A' });
  },
);
it('forgives an ampere of any meter', () => {
  const fine = { ...depot, plausibility: { ...depot.plausibility, currentFloorA: 0.2 } };
  const run = new Run(reverseCurrent, new Scene(fine).charging(200)).reports(2, (s) => s.amps(-1));
  expect(run.failing).toEqual([]);
  expect(run.reports(1, (s) => s.amps(-1.1)).failing).toEqual(['reverse-current']);
});
it.each(['closing', 'ramping', 'holding', 'tapering', 'ramping-down', 'tripped-ramping-down'] as const)(
  'is asked while %s',
  (phase) => {
    const run = holding();
    run.scene.enter(phase);
    expect(run.reports(1, (s) => s.amps(-20)).failing).toEqual(['reverse-current']);
  },
);
it.each(['parked', 'matching-voltage', 'pre-charging', 'opening', 'bleeding', 'making-safe'] as const)(
  'is not asked while %s, and begins anew after it',
  (phase) => {
    const run = holding().reports(1, (s) => Object.assign(s.meter, { currentA: -29, currentMaxA: 200 }));
    run.scene.enter(phase);
    expect(run.reports(1).last.findings).toEqual([]);
    run.scene.enter('holding');
    expect(run.reports(1).failing).toEqual([]);
  },
);
it('says nothing without a meter, and a tick is no second report', () => {
  const run = holding().reports(1, (s) => Object.assign(s.meter, { currentA: -29, currentMaxA: 200 }));
  expect(run.tick(25).failing).toEqual([]);
  expect(feed(run, { meter: null }).findings).toEqual([]);
});
it('is calm before the first report', () => {
  const run = new Run(reverseCurrent, new Scene().charging(200));
  expect(run.tick(25).finding('reverse-current').failing).toBe(false);
});
