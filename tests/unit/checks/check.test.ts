/** What every check asks of a reading before it lets it prove anything. */
import { expect, it } from 'vitest';
import { isAfterMakeSafe, isFresh, NO_WISH, type Seen } from '../../../src/checks/check.js';
import { Scene } from './build.js';

const aged = (ageMs: number): Seen<'meter'> => ({
  ...(new Scene().report().meter as Seen<'meter'>),
  ageMs,
});

it.each([
  [0, true],
  [400, true],
  [400.1, false],
  [Number.POSITIVE_INFINITY, false],
  [Number.NaN, false],
])('a sample %s ms old is fresh within 400 ms: %s', (ageMs, fresh) => {
  expect(isFresh(aged(ageMs), 400)).toBe(fresh);
});
it('is never fresh when it was never heard, nor by a deadline that is no number', () => {
  expect(isFresh(null, Number.POSITIVE_INFINITY)).toBe(false);
  expect(isFresh(aged(0), Number.NaN)).toBe(false);
});
it('wishes for nothing: no aim, no end, no bound', () => {
  expect(NO_WISH).toEqual({
    ...{ targetSoc: Number.NaN, targetEnergyKwh: Number.NaN },
    ...{ maxS: Number.POSITIVE_INFINITY, maxCurrentA: Number.POSITIVE_INFINITY },
  });
});
it.each([
  [0, 50, true],
  [49.9, 50, true],
  [50, 50, false],
  [200, 50, false],
  [200, Number.POSITIVE_INFINITY, true],
  [Number.NaN, 50, false],
])('a sample %s ms old, make-safe ordered %s ms ago, is from after it: %s', (ageMs, sinceMs, after) => {
  const seen = new Scene().report();
  const ordered = { ...seen.ordered, sinceMs: { ...seen.ordered.sinceMs, makeSafe: sinceMs } };
  expect(isAfterMakeSafe(aged(ageMs), { ...seen, ordered })).toBe(after);
});
