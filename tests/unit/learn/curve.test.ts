/** A line through recordings whose rows go together, and what is known before. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { about, free, layCurve, type Unknown } from '../../../src/learn/curve.js';

const ROWS = 300;
const TRUTH = { level: 5, slope: 2 };

/** Noise of which a share goes on from row to row. */
function laid(seed: number, share: number, unknowns: readonly Unknown[] = [free(0), free(0)]) {
  const random = new SeededRandom(seed);
  let noise = 0;
  const x = Float64Array.from({ length: ROWS }, (_, k) => k / ROWS);
  const measured = x.map((at) => {
    noise = share * noise + Math.sqrt(1 - share * share) * random.gaussian();
    return TRUTH.level + TRUTH.slope * at + noise;
  });
  return layCurve({ measured, unknowns, at: ([a = 0, b = 0]) => x.map((at) => a + b * at), leastSd: 1e-6 });
}

describe('a curve', () => {
  it('has the error of the textbook where rows are independent', () => {
    const { errors, rms } = laid(1, 0);
    // Of a slope over even x from 0 to 1: σ·√(12/n), and √(4/n) of a level at their end.
    expect(Math.abs(errors[1]! / (rms * Math.sqrt(12 / ROWS)) - 1)).toBeLessThan(0.1);
    expect(Math.abs(errors[0]! / (rms * Math.sqrt(4 / ROWS)) - 1)).toBeLessThan(0.1);
  });

  it.each([0, 0.8])('errs as often as it says where %d of the noise goes on', (share) => {
    let outside = 0;
    for (let seed = 1; seed <= 100; seed++) {
      const { at, errors } = laid(seed, share);
      if (Math.abs(at[1]! - TRUTH.slope) > 1.96 * errors[1]!) outside++;
    }
    // Five to be expected; with rows taken for independent it would be about half.
    expect(outside).toBeLessThanOrEqual(13);
  });

  it('keeps to what is known before where the rows say little, and to the rows where they say more', () => {
    const [tight, loose] = [1e-4, 1e4].map((sd) => laid(2, 0, [free(0), about(0, sd)]));
    expect(tight!.at[1]).toBeCloseTo(0, 3);
    expect(tight!.errors[1]).toBeCloseTo(1e-4, 6);
    expect(loose!.at[1]).toBeCloseTo(laid(2, 0).at[1]!, 4);
  });
});
