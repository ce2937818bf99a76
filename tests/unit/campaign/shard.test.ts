/** How a campaign is cut: nothing lost, nothing twice, and no shard with more to do than another. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { numbersOf, shardAt } from '../../../src/campaign/shard.js';

const all = (from: number, cases: number, of: number): number[][] =>
  Array.from({ length: of }, (_, i) => numbersOf({ from, cases }, { index: i + 1, of }));

describe('shards', () => {
  it('hold every case once, ascending, and differ by one case at most', () => {
    fc.assert(
      fc.property(fc.nat(1000), fc.nat(300), fc.integer({ min: 1, max: 40 }), (from, cases, of) => {
        const shards = all(from, cases, of);
        expect(shards.flat().sort((a, b) => a - b)).toEqual(
          Array.from({ length: cases }, (_, i) => from + i),
        );
        for (const shard of shards) expect(shard).toEqual([...shard].sort((a, b) => a - b));
        const sizes = shards.map((s) => s.length);
        expect(Math.max(...sizes) - Math.min(...sizes)).toBeLessThanOrEqual(1);
      }),
    );
  });
  it('are the same by number and by position', () => {
    for (const [i, shard] of all(50, 100, 7).entries())
      for (const number of shard) expect(shardAt(number - 50, 7)).toBe(i + 1);
  });
  it('are whole where there is one, and may be empty where there are more than cases', () => {
    expect(numbersOf({ from: 3, cases: 4 }, { index: 1, of: 1 })).toEqual([3, 4, 5, 6]);
    expect(all(0, 2, 5).map((s) => s.length)).toEqual([1, 1, 0, 0, 0]);
  });

  /** The longest shard against the mean, where case k takes this long. */
  const longest = (of: number, costOf: (k: number) => number): number => {
    const sums = all(0, 4200, of).map((shard) => shard.reduce((sum, k) => sum + costOf(k), 0));
    return (Math.max(...sums) * of) / sums.reduce((a, b) => a + b);
  };
  it.each([2, 3, 4, 5, 6, 7])('take equally long in %i where neighbours are alike', (of) => {
    expect(longest(of, (k) => k)).toBeLessThan(1.02);
    // Blocks would give the first of them nearly all: of times the mean.
    expect(longest(of, (k) => (k < 600 ? 100 : 1))).toBeLessThan(1.02);
  });
  it.each([2, 3, 4, 5, 6, 7])('take about equally long in %i where every so manieth case is long', (of) => {
    // Dealt always in the same order, a period that is a multiple of `of` gives one shard nearly of times the mean.
    for (let period = 2; period <= 24; period++)
      expect(longest(of, (k) => (k % period === 0 ? 100 : 1))).toBeLessThan(1.5);
  });
});
