/** Touch volts over time (EN 50122-1:2011 Table 6, published, transcription). */
import { expect, it } from 'vitest';
import { touchV } from '../../src/rig/touch.js';

it.each([
  [0, 870],
  [0.02, 870],
  [0.0201, 735],
  [0.25, 460],
  [0.6, 360],
  [0.601, 175],
  [0.95, 160],
  [1.001, 150],
  [301, 120],
  [Number.POSITIVE_INFINITY, 120],
  // What cannot be read is no excuse.
  [Number.NaN, 120],
])('%d s: %d V, between rows that of the longer time', (seconds, volts) => {
  expect(touchV(seconds)).toBe(volts);
});

it('never permits more for longer', () => {
  let before = Number.POSITIVE_INFINITY;
  for (let s = 0.005; s < 400; s *= 1.01) {
    expect(touchV(s)).toBeLessThanOrEqual(before);
    before = touchV(s);
  }
});
