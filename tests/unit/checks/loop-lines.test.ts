/** Pick-up in a residual: sinusoids written here, at frequencies with whole periods in the recording. */
import { describe, expect, it } from 'vitest';
import { addLine, project, strongestLine } from '../../../src/checks/loop-lines.js';

const TURN = 2 * Math.PI;
/** 25 periods of 80 Hz, 50 points each: 0.3125 s, so that multiples of 3.2 Hz have whole periods. */
const evenly = (points = 50, pilotHz = 80, periods = 25) =>
  Float64Array.from({ length: periods * points }, (_, k) => k / pilotHz / points);
interface Wave {
  readonly hertz: number;
  readonly cosA?: number;
  readonly sinA?: number;
}
const waves = (timeS: Float64Array, ...list: Wave[]) =>
  timeS.map((t) =>
    list.reduce(
      (sum, { hertz, cosA = 0, sinA = 0 }) =>
        sum + cosA * Math.cos(TURN * hertz * t) + sinA * Math.sin(TURN * hertz * t),
      0,
    ),
  );

describe('a line', () => {
  it('is added to what is there, with its slopes', () => {
    // A quarter of a period of 2 Hz, and an eighth.
    const timeS = Float64Array.of(0, 0.125, 0.0625);
    const current = Float64Array.of(10, 20, 30);
    const slopes = [0, 1, 2].map(() => new Float64Array(3));
    addLine({ cosA: 3, sinA: 5, hertz: 2 }, timeS, current, slopes);
    const half = Math.SQRT1_2;
    [13, 25, 30 + 8 * half].forEach((a, k) => {
      expect(current[k]).toBeCloseTo(a, 12);
    });
    [1, 0, half].forEach((c, k) => {
      expect(slopes[0]![k]).toBeCloseTo(c, 12);
    });
    [0, 1, half].forEach((s, k) => {
      expect(slopes[1]![k]).toBeCloseTo(s, 12);
    });
    // By the frequency: 2π·t·(sin part · cos − cos part · sin).
    [0, TURN * 0.125 * -3, TURN * 0.0625 * 2 * half].forEach((d, k) => {
      expect(slopes[2]![k]).toBeCloseTo(d, 12);
    });
    const alone = Float64Array.of(0, 0, 0);
    addLine({ cosA: 3, sinA: 5, hertz: 2 }, timeS, alone);
    expect(alone[0]).toBeCloseTo(3, 12);
  });
  it('is half its amplitude times the samples when projected on itself, and nothing on another', () => {
    const timeS = evenly();
    const x = waves(timeS, { hertz: 48, cosA: 2, sinA: -3 });
    const { cos, sin } = project(timeS, x, 48);
    expect(cos).toBeCloseTo(1250, 6);
    expect(sin).toBeCloseTo(-1875, 6);
    const other = project(timeS, x, 51.2);
    expect(Math.hypot(other.cos, other.sin)).toBeLessThan(1e-6);
  });
});

describe('the strongest line', () => {
  it.each([
    { hertz: 48, cosA: 1e-3, sinA: 0 },
    { hertz: 51.2, cosA: 0, sinA: 2e-3 },
    { hertz: 99.2, cosA: -1e-3, sinA: 1e-3 },
    { hertz: 700.8, cosA: 1e-4, sinA: -2e-4 },
    // The lowest that three quarters of a period tell from a mean.
    { hertz: 3.2, cosA: 1e-3, sinA: 1e-3 },
  ])('of $hertz Hz is found with both parts', ({ hertz, cosA, sinA }) => {
    for (const points of hertz === 48 ? [16, 50, 200] : [20]) {
      const timeS = evenly(points);
      const found = strongestLine(timeS, waves(timeS, { hertz, cosA, sinA }), 80);
      expect(Math.abs(found!.hertz - hertz)).toBeLessThan(0.1);
      const amplitude = Math.hypot(cosA, sinA);
      expect(Math.abs(found!.cosA - cosA)).toBeLessThan(0.06 * amplitude);
      expect(Math.abs(found!.sinA - sinA)).toBeLessThan(0.06 * amplitude);
    }
  });
  it('is the stronger of two', () => {
    const timeS = evenly(20);
    const weak = { hertz: 48, cosA: 1 };
    const strong = { hertz: 252.8, sinA: 1.2 };
    for (const both of [
      [weak, strong],
      [strong, weak],
    ])
      expect(strongestLine(timeS, waves(timeS, ...both), 80)?.hertz).toBeCloseTo(252.8, 0);
  });
  it.each([
    // 500 points: the line must have ln(250,000) = 12.4 times the power an even spectrum would have. Of a cosine
    // of amplitude 1 and a spike of B beside it that is (250² + B²) ÷ (250 + B²): 13.1 and 11.9.
    { spikeA: 70, seen: true },
    { spikeA: 74, seen: false },
  ])('must stand out of the rest: a spike of $spikeA, $seen', ({ spikeA, seen }) => {
    const timeS = evenly(20);
    const hertz = (14.75 * 1600) / 499;
    const x = waves(timeS, { hertz, cosA: 1 });
    // Where the cosine passes through nothing, so that the two do not mix.
    const across = timeS.map((t) => Math.abs(Math.cos(TURN * hertz * t)));
    x[across.indexOf(Math.min(...across))] = spikeA;
    expect(strongestLine(timeS, x, 80) !== null).toBe(seen);
  });
  it.each([
    // 5 % of mains away from a multiple of the pilot, or the pilot itself.
    { hertz: 80, seen: false, why: 'the pilot' },
    { hertz: 160, seen: false, why: 'twice the pilot' },
    { hertz: 240, seen: false, why: 'three times, 4 % below 250 Hz' },
    { hertz: 720, seen: true, why: 'nine times, and twelve-pulse ripple of 60 Hz' },
    { hertz: 880, seen: true, why: 'eleven times, 2.2 % below 900 Hz' },
    { hertz: 560, seen: false, why: 'seven times, 7 % below 600 Hz' },
    { hertz: 162.4, seen: true, why: 'next to twice the pilot: three quarters of a line away' },
  ])('of $hertz Hz beside half as much of 48 Hz: $seen, $why', ({ hertz, seen }) => {
    // Whenever the recorder's clock began.
    for (const beganS of [0, 12.5]) {
      const timeS = evenly().map((t) => t + beganS);
      const found = strongestLine(timeS, waves(timeS, { hertz, cosA: 1 }, { hertz: 48, cosA: 0.5 }), 80);
      expect(Math.abs(found!.hertz - (seen ? hertz : 48))).toBeLessThan(0.5);
    }
  });
  it('is never the pilot, though mains may lie on it', () => {
    const timeS = evenly(50, 60, 25);
    const both = waves(timeS, { hertz: 60, cosA: 1 }, { hertz: 48, cosA: 0.5 });
    expect(strongestLine(timeS, both, 60)?.hertz).toBeCloseTo(48, 0);
  });
  it.each([
    // At 640 samples a second 24 × 60 Hz shows at 1440 − 1280 = 160 Hz; at 960 nothing does.
    { points: 8, expected: 160 },
    { points: 12, expected: 48 },
  ])('may lie on twice the pilot where $points points a period fold mains there', ({ points, expected }) => {
    const timeS = evenly(points);
    const both = waves(timeS, { hertz: 160, sinA: 1 }, { hertz: 48, cosA: 0.5 });
    expect(strongestLine(timeS, both, 80)?.hertz).toBeCloseTo(expected, 0);
  });
  it('is sought up to 2 kHz, and to half the rate of the averaged samples', () => {
    const quick = evenly(50, 400, 25);
    expect(strongestLine(quick, waves(quick, { hertz: 1936, cosA: 1 }), 400)?.hertz).toBeCloseTo(1936, 0);
    expect(strongestLine(quick, waves(quick, { hertz: 2064, cosA: 1 }), 400)).toBeNull();
    // 16 points a period of 80 Hz: 640 Hz.
    const coarse = evenly(16);
    expect(strongestLine(coarse, waves(coarse, { hertz: 620.8, cosA: 1 }), 80)?.hertz).toBeCloseTo(620.8, 0);
  });
  it('is found at uneven times', () => {
    // The second half of the recording at half the pace of the first.
    const timeS = evenly(20).map((t) => 0.3125 * (t / 0.3125) ** 1.5);
    const found = strongestLine(timeS, waves(timeS, { hertz: 99.2, sinA: 1 }), 80);
    expect(found?.hertz).toBeCloseTo(99.2, 0);
  });
  it('does not begin with the clock at nothing', () => {
    const timeS = evenly(20).map((t) => t + 12.5);
    const found = strongestLine(timeS, waves(timeS, { hertz: 48, cosA: 1 }), 80);
    expect(found?.hertz).toBeCloseTo(48, 1);
  });
  it('is none in nothing', () => {
    const timeS = evenly();
    expect(strongestLine(timeS, new Float64Array(timeS.length), 80)).toBeNull();
  });
});

describe('what the search costs, counted in cosines', () => {
  const cosinesFor = (timeS: Float64Array): number => {
    const x = waves(timeS, { hertz: 48, cosA: 1 });
    const real = Math.cos;
    let count = 0;
    Math.cos = (turn) => {
      count++;
      return real(turn);
    };
    try {
      expect(strongestLine(timeS, x, 80)?.hertz).toBeCloseTo(48, 0);
    } finally {
      Math.cos = real;
    }
    return count;
  };
  /** Every other row late by a share of a step, by a clock that begins anywhere. */
  const late = (timeS: Float64Array, share: number) =>
    timeS.map((t, k) => 3 + t + (k % 2) * share * (timeS[1]! - timeS[0]!));
  it('is none for each row where rows are even within a fiftieth of their step', () => {
    // A pointer is turned, by one cosine a frequency: 0 to 800 Hz in halves of 3.2 Hz, and what narrows it down.
    // At the end both parts are taken at all 500 rows.
    const rows = 500;
    for (const share of [0, 0.015]) {
      const even = cosinesFor(late(evenly(20), share));
      expect(even).toBeGreaterThan(rows);
      expect(even).toBeLessThan(rows + 600);
    }
    expect(cosinesFor(late(evenly(20), 0.03))).toBeGreaterThan(400 * rows);
  });
  it('is that of a coarse recording for a fine one, save where both parts are taken at the end', () => {
    const coarse = cosinesFor(late(evenly(20), 0.2));
    // Averaged over ten rows every other one is late by a fifth of ten steps.
    const fine = evenly(200).map((t, k) => t + (Math.floor(k / 10) % 2) * (2 / 80 / 200));
    expect(cosinesFor(fine)).toBeLessThan(2 * coarse + 5000);
  });
});
