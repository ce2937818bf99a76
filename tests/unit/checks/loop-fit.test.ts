/** Fits of small models written here, whose least squares are known in closed form. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { type BaseModel, type Belief, fitWithLines } from '../../../src/checks/loop-fit.js';

const TURN = 2 * Math.PI;
/** 25 periods of 80 Hz, 50 points each. */
const timeS = Float64Array.from({ length: 1250 }, (_, k) => k / 4000);
const N = timeS.length;

/** A sine of parameter 0 at the frequency of parameter 1, with its slopes. */
const sine = (beliefs: readonly Belief[] = [], start: readonly number[] = [0.01, 80]): BaseModel => ({
  start,
  low: [-1, 79],
  high: [1, 81],
  beliefs,
  hertz: 1,
  evaluate(at, t, current, slopes) {
    for (let k = 0; k < current.length; k++) {
      const turn = TURN * at[1]! * t[k]!;
      current[k] = at[0]! * Math.sin(turn);
      if (slopes === undefined) continue;
      slopes[0]![k] = Math.sin(turn);
      slopes[1]![k] = at[0]! * TURN * t[k]! * Math.cos(turn);
    }
  },
});
/** One level for all rows; parameter 1 is the frequency and held by its belief alone. */
const level = (belief: Belief): BaseModel => ({
  start: [0, 80],
  low: [-1, 79],
  high: [1, 81],
  beliefs: [belief, { parameter: 1, mean: 80, deviation: 0.01 }],
  hertz: 1,
  evaluate(at, _, current, slopes) {
    current.fill(at[0]!);
    if (slopes === undefined) return;
    slopes[0]!.fill(1);
    slopes[1]!.fill(0);
  },
});
const gaussian = (deviation: number, seed = 3) => {
  const random = new SeededRandom(seed);
  return timeS.map(() => deviation * random.gaussian());
};
const add = (...all: Float64Array[]) => timeS.map((_, k) => all.reduce((sum, each) => sum + each[k]!, 0));
const wave = (cosA: number, sinA: number, hertz: number) =>
  timeS.map((t) => cosA * Math.cos(TURN * hertz * t) + sinA * Math.sin(TURN * hertz * t));

describe('a sine in noise', () => {
  const noise = gaussian(1e-4);
  const fit = fitWithLines(sine(), timeS, add(wave(0, 8e-3, 80), noise), 16e-3);

  it('has the amplitude of its projection and the noise of the rest', () => {
    const projected = (2 / N) * timeS.reduce((sum, t, k) => sum + noise[k]! * Math.sin(TURN * 80 * t), 0);
    expect(fit.at[0]).toBeCloseTo(8e-3 + projected, 7);
    expect(fit.at[1]).toBeCloseTo(80, 1);
    const squares = fit.residualA.reduce((sum, r) => sum + r * r, 0);
    expect(fit.noiseA / Math.sqrt(squares / (N - 2))).toBeCloseTo(1, 9);
    expect(fit.noiseA / 1e-4).toBeCloseTo(1, 1);
    expect(fit.freedom).toBe(N - 2);
    expect(fit.lines).toEqual([]);
  });
  it('leaves observed less fitted', () => {
    timeS.forEach((t, k) => {
      const observed = 8e-3 * Math.sin(TURN * 80 * t) + noise[k]!;
      const fitted = fit.at[0]! * Math.sin(TURN * fit.at[1]! * t);
      expect(Math.abs(fit.residualA[k]! - (observed - fitted))).toBeLessThan(1e-12);
    });
  });
  it('is known to the variance of the textbook: twice that of a sample over their number', () => {
    expect(fit.covariance.length).toBe(4);
    expect(fit.covariance[0]! / ((2 * fit.noiseA ** 2) / N)).toBeCloseTo(1, 2);
    // Of the frequency 6σ² ÷ (π·a·T)² ÷ N with the phase known: the times count from the beginning.
    const textbook = (3 * 2 * fit.noiseA ** 2) / (N * (8e-3 * TURN * 0.3125) ** 2);
    expect(fit.covariance[3]! / textbook).toBeCloseTo(1, 1);
  });
});

describe('beliefs', () => {
  it.each([
    // A level of 5 mA in noise of 1 mA is known to 28.3 µA; believed to be 10 µA less with this deviation.
    { deviation: 1e-3 / Math.sqrt(N), share: 0.5 },
    { deviation: 2e-3 / Math.sqrt(N), share: 0.8 },
    { deviation: 0.5e-3 / Math.sqrt(N), share: 0.2 },
    { deviation: 1, share: 1 },
  ])('count as observations: with $deviation A the record has $share of the say', ({ deviation, share }) => {
    // Plus and minus by turns, so that the noise has no mean.
    const x = timeS.map((_, k) => 5e-3 + (k % 2 === 0 ? 1e-3 : -1e-3));
    const fit = fitWithLines(level({ parameter: 0, mean: 4.99e-3, deviation }), timeS, x, 16e-3);
    expect(fit.at[0]).toBeCloseTo(4.99e-3 + share * 1e-5, 7);
    expect(fit.freedom).toBe(N + 2 - 2);
    const precision = N / fit.noiseA ** 2 + 1 / deviation ** 2;
    expect(fit.covariance[0]! * precision).toBeCloseTo(1, 4);
    expect(fit.covariance[3]! / 0.01 ** 2).toBeCloseTo(1, 6);
  });
  it('weigh by the noise as it comes out, not as it was taken to be at first', () => {
    // Noise of 10 µA against 800 µA assumed at first: a belief off by ten of its deviations must give way.
    const x = timeS.map((_, k) => 5e-3 + (k % 2 === 0 ? 1e-5 : -1e-5));
    const fit = fitWithLines(level({ parameter: 0, mean: 4e-3, deviation: 1e-4 }), timeS, x, 16e-3);
    expect(fit.at[0]).toBeCloseTo(5e-3, 7);
    expect(fit.noiseA / 1e-5).toBeCloseTo(1, 2);
    expect(fit.covariance[0]! / (1e-10 / N)).toBeGreaterThan(0.9);
    expect(fit.covariance[0]! / (1e-10 / N)).toBeLessThan(1.5);
  });
});

describe('a record without noise', () => {
  it('is not known better than 0.03 ‰ of the peak', () => {
    const fit = fitWithLines(sine(), timeS, wave(0, 8e-3, 80), 16e-3);
    expect(fit.noiseA).toBeCloseTo(3e-5 * 16e-3, 12);
    expect(fit.at[0]).toBeCloseTo(8e-3, 9);
    expect(fit.covariance[0]! / ((2 * (3e-5 * 16e-3) ** 2) / N)).toBeCloseTo(1, 2);
  });
});

describe('pick-up', () => {
  const pilot = wave(0, 8e-3, 80);
  const noise = gaussian(2e-6);
  const found = (...lines: Float64Array[]) => fitWithLines(sine(), timeS, add(pilot, noise, ...lines), 16e-3);

  it('is fitted along with the pilot, parts and frequency, and counted in the freedom', () => {
    // No whole periods in the record, so that a projection alone is off.
    const fit = found(wave(4e-4, -3e-4, 49.3), wave(0, 2e-4, 301.7));
    const [first, second] = [...fit.lines].sort((a, b) => a.hertz - b.hertz);
    expect(fit.lines.length).toBe(2);
    expect(first!.hertz).toBeCloseTo(49.3, 2);
    expect(first!.cosA).toBeCloseTo(4e-4, 6);
    expect(first!.sinA).toBeCloseTo(-3e-4, 6);
    expect(second!.hertz).toBeCloseTo(301.7, 2);
    expect(Math.hypot(second!.cosA, second!.sinA)).toBeCloseTo(2e-4, 6);
    expect(fit.at[0]).toBeCloseTo(8e-3, 6);
    expect(fit.freedom).toBe(N - 2 - 6);
    expect(fit.at.length).toBe(2);
    expect(fit.covariance.length).toBe(4);
    expect(fit.noiseA / 2e-6).toBeCloseTo(1, 1);
  });
  it('may lie as far from where it was sought as one period in the whole record tells, whenever that began', () => {
    // The same record ten times as fast, begun at 7 s: a search to 0.1 of a line is off by more than a hertz.
    const quick = timeS.map((t) => 7 + t / 10);
    const model: BaseModel = {
      ...sine([], [0.01, 800]),
      low: [-1, 790],
      high: [1, 810],
    };
    const [w, l] = [800, 497.3].map((hertz) => (t: number) => Math.sin(TURN * hertz * t));
    const x = quick.map((t, k) => 8e-3 * w!(t) + 4e-4 * l!(t) + noise[k]!);
    const [line, ...others] = fitWithLines(model, quick, x, 16e-3).lines;
    expect(others).toEqual([]);
    expect(line!.hertz).toBeCloseTo(497.3, 0);
    expect(Math.hypot(line!.cosA, line!.sinA)).toBeCloseTo(4e-4, 6);
  });
  it('below 0.3 ‰ of the peak is left alone: it may be what the model leaves out', () => {
    expect(found(wave(4.6e-6, 0, 48)).lines.length).toBe(0);
    expect(found(wave(5.2e-6, 0, 48)).lines.length).toBe(1);
  });
  it('of many lines is fitted up to eight', () => {
    const lines = [112, 131, 187, 209, 274, 351, 433, 519, 607, 693].map((hertz, k) =>
      wave((10 + k) * 1e-5, 0, hertz),
    );
    const fit = found(...lines);
    expect(fit.lines.length).toBe(8);
    // The strongest ones.
    const least = Math.min(...fit.lines.map((l) => Math.hypot(l.cosA, l.sinA)));
    expect(least).toBeGreaterThan(11e-5);
  });
  it('much weaker than its neighbour is found once that one is fitted', () => {
    const fit = found(wave(1e-3, 0, 49.3), wave(0, 3e-5, 207.4));
    expect(fit.lines.length).toBe(2);
    expect(Math.min(...fit.lines.map((l) => Math.hypot(l.cosA, l.sinA)))).toBeCloseTo(3e-5, 6);
    expect(fit.noiseA / 2e-6).toBeCloseTo(1, 1);
  });
});
