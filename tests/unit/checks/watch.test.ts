/** Debounce as data. */
import { expect, it } from 'vitest';
import { CALM, ripe, since, watch } from '../../../src/checks/watch.js';

it('ripens by samples and by the time they span, never by ticks', () => {
  let w = watch(CALM, false, true, 100);
  for (let t = 110; t < 1000; t += 10) w = watch(w, false, false, t);
  expect(ripe(w, 2)).toBe(false);
  expect(ripe(w, 1, 50)).toBe(false);
  w = watch(w, false, true, 1000);
  expect(ripe(w, 2, 900)).toBe(true);
  expect(ripe(w, 2, 901)).toBe(false);
  expect(since(w, 1000)).toBe(100);
});
it('forgets at the first good sample', () => {
  let w = watch(watch(CALM, false, true, 100), false, true, 150);
  w = watch(w, true, true, 200);
  expect(w).toEqual(CALM);
  expect(since(w, 200)).toBe(200);
});
