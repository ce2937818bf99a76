/** A pack that feeds the charger, and the pulse that is none. */
import { expect, it } from 'vitest';
import { reverseCurrent } from '../../../src/checks/reverse-current.js';
import { Run, Scene } from './build.js';

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
