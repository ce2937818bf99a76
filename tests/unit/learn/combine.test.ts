/** One figure from many, and recordings in bounded memory. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { Bins } from '../../../src/learn/bins.js';
import { combine } from '../../../src/learn/combine.js';

describe('a figure from many sessions', () => {
  it('is of one session what its own error says', () => {
    const { value, low, high } = combine([{ value: 10, error: 0.5 }], 0);
    expect([value, low, high]).toEqual([10, expect.closeTo(9.02, 9), expect.closeTo(10.98, 9)]);
  });

  it('is of sessions that scatter the mean with the t interval of a textbook', () => {
    // Mean 10.25, s = 1.258, n = 4: t(3) 3.182 · 1.258/2 = 2.002.
    const found = [9, 10, 10, 12].map((value) => ({ value, error: 1e-6 }));
    const { value, low, high } = combine(found, 0);
    expect(value).toBeCloseTo(10.25, 6);
    expect(high - value).toBeCloseTo(2.002, 1);
    expect(value - low).toBeCloseTo(2.002, 1);
  });

  it('is never surer than the sessions are of themselves, nor than their instruments', () => {
    const same = [1, 2, 3].map(() => ({ value: 10, error: 0.3 }));
    expect(combine(same, 0).high - 10).toBeCloseTo((1.96 * 0.3) / Math.sqrt(3), 9);
    const exact = [1, 2, 3].map(() => ({ value: 10, error: 1e-9 }));
    expect(combine(exact, 0.01).high - 10).toBeCloseTo(0.1, 6);
  });

  it('holds the truth in about the share it says, where sessions differ by more than they know', () => {
    const random = new SeededRandom(3);
    let held = 0;
    for (let k = 0; k < 400; k++) {
      const found = Array.from({ length: 5 }, () => {
        const error = 0.02 * (1 + 3 * random.between(0, 1));
        return { value: 1 + 0.05 * random.gaussian() + error * random.gaussian(), error };
      });
      const { low, high } = combine(found, 0);
      if (low <= 1 && high >= 1) held++;
    }
    // 380 to be expected, 4.4 one standard deviation.
    expect(held).toBeGreaterThan(362);
    expect(held).toBeLessThanOrEqual(396);
  });
});

describe('bins', () => {
  it('keep means and order, and stay few however long a recording is', () => {
    const bins = new Bins();
    const longS = 100_000;
    for (let tS = 0; tS < longS; tS++) bins.add(tS, [tS, 2 * tS + 1]);
    const { list } = bins;
    expect(list.length).toBeLessThanOrEqual(4096);
    expect(list.length).toBeGreaterThan(2048);
    for (const { tS, values } of list)
      expect(values).toEqual([expect.closeTo(tS, 6), expect.closeTo(2 * tS + 1, 6)]);
    const times = list.map(({ tS }) => tS);
    expect([...times].sort((a, b) => a - b)).toEqual(times);
    expect(times.at(-1)).toBeGreaterThan(longS - 64);
  });
});
