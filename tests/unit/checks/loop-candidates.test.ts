/** Both loops fitted to currents of known loops: where the fits start, what they believe, and what they find. */
import { describe, expect, it } from 'vitest';
import { diodeStart, fitDiodeLoop, fitPlainLoop } from '../../../src/checks/loop-candidates.js';
import { AT, pilotCurrent } from '../../../src/checks/loop-model.js';
import { depot } from './build.js';

const TURN = 2 * Math.PI;
const pilot = depot.pilot!;
const PEAK_V = 12 * Math.SQRT2;
const source = { peakV: PEAK_V, ohm: 1000 };
const timeS = Float64Array.from({ length: 1250 }, (_, k) => k / 4000);

describe('where the fit of a diode loop starts', () => {
  /** Fundamental and mean of half waves of these peaks. */
  const of = (a: number, b: number) => ({ fundamentalA: (a + b) / 2, meanA: (a - b) / Math.PI });
  it.each([
    { series: 20, leak: 5000, dropV: 0 },
    { series: 300, leak: 1250, dropV: 0 },
    { series: 2000, leak: 20_000, dropV: 0 },
    { series: 20, leak: 5000, dropV: 0.7 },
  ])('is $series Ω behind a leak of $leak Ω, drop $dropV V', ({ series, leak, dropV }) => {
    // The other half wave flows through source and leak alone.
    const b = PEAK_V / (1000 + leak);
    // By the divider of source and leak: its open volts less the drop, behind its inner resistance, and the share.
    const openV = (PEAK_V * leak) / (1000 + leak);
    const innerOhm = (1000 * leak) / (1000 + leak);
    const a = (openV - dropV) / (innerOhm + series);
    const start = diodeStart(source, dropV, of(a, b));
    expect(start.leakS * leak).toBeCloseTo(1, 9);
    expect(start.series / series).toBeCloseTo(1, 6);
  });
  it.each([
    { is: 'no leak', a: 16e-3, b: 0, leakS: 1e-5, series: undefined },
    { is: 'less than no leak', a: 16e-3, b: -1e-3, leakS: 1e-5, series: undefined },
    // 1 kΩ alone draws 17 mA: what draws more is taken for a fifth of the volts on the leak.
    { is: 'more than the source gives', a: 20e-3, b: 18e-3, leakS: 18e-3 / (0.2 * PEAK_V), series: 1 },
    { is: 'a leak like a short', a: 0.5, b: 0.4, leakS: 0.02, series: 1 },
    { is: 'next to no current', a: 0, b: 0, leakS: 1e-5, series: 2e4 },
  ])('is within bounds with $is', ({ a, b, leakS, series }) => {
    const start = diodeStart(source, 0.7, of(a, b));
    expect(start.leakS / leakS).toBeCloseTo(1, 9);
    if (series !== undefined) expect(start.series).toBe(series);
  });
});

describe('a loop with a diode', () => {
  const TRUE = { series: 12, leakS: 1 / 6000, drop: 0.7, slope: 0.035, phase: 0.4, hertz: 80.3, farad: 3e-9 };
  const fitted = (
    change: Partial<typeof TRUE>,
    rig = pilot,
    start: Partial<Parameters<typeof fitDiodeLoop>[4]> = {},
  ) => {
    const truth = { ...TRUE, ...change };
    const at = new Array<number>(7).fill(0);
    for (const [name, index] of Object.entries(AT)) at[index] = truth[name as keyof typeof TRUE];
    const currentA = new Float64Array(timeS.length);
    pilotCurrent(at, source, timeS, currentA);
    const rough = { hertz: 80, meanA: 4e-3, fundamentalA: 9e-3, phase: 0.4, ...start };
    return fitDiodeLoop(timeS, currentA, source, rig, rough);
  };
  it('is found with all seven parameters', () => {
    const fit = fitted({});
    expect(fit.at[AT.series]).toBeCloseTo(12, 1);
    expect(fit.at[AT.leakS]! * 6000).toBeCloseTo(1, 3);
    expect(fit.at[AT.drop]).toBeCloseTo(0.7, 2);
    expect(fit.at[AT.slope]).toBeCloseTo(0.035, 3);
    expect(fit.at[AT.phase]).toBeCloseTo(0.4, 3);
    expect(fit.at[AT.hertz]).toBeCloseTo(80.3, 3);
    expect(Math.abs(fit.at[AT.farad]! - 3e-9)).toBeLessThan(2e-10);
    // As exact as the share of the peak current that the model leaves out.
    expect(fit.noiseA).toBeCloseTo((3e-5 * PEAK_V) / 1000, 12);
    expect(fit.freedom).toBe(1250 + 3 - 7);
  });
  it('may have another drop, corner and capacitance than the rig states', () => {
    const fit = fitted({ drop: 0.55, slope: 0.06, farad: -2e-9 });
    expect(fit.at[AT.drop]).toBeCloseTo(0.55, 2);
    expect(fit.at[AT.slope]).toBeCloseTo(0.06, 3);
    expect(Math.abs(fit.at[AT.farad]! + 2e-9)).toBeLessThan(2e-10);
    expect(fit.at[AT.series]).toBeCloseTo(12, 0);
  });
  it('has a rectifier without a corner where the rig states hardly any drop', () => {
    const sharp = fitted({ drop: 0, slope: 3e-4, farad: 0 }, { ...pilot, diodeDropV: 0 });
    expect(sharp.at[AT.slope]).toBeLessThan(2e-3);
    expect(sharp.at[AT.series]).toBeCloseTo(12, 0);
    // Just at 0.1 V a diode is believed in again: its corner is known no better than ±20 mV before the record.
    const believed = (diodeDropV: number) => {
      const fit = fitted({ drop: diodeDropV, slope: 0.035 }, { ...pilot, diodeDropV });
      return fit.at[AT.slope];
    };
    expect(believed(0.1)).toBeCloseTo(0.035, 3);
  });
  it('is sought within 2 % of the frequency it starts from', () => {
    expect(fitted({ hertz: 81.5 }).at[AT.hertz]).toBeCloseTo(81.5, 2);
    expect(fitted({ hertz: 78.5 }).at[AT.hertz]).toBeCloseTo(78.5, 2);
  });
  it('is known as far as its beliefs go where the record says nothing', () => {
    // No current at all: drop ±0.1 V, corner ±20 mV, capacitance ±20 nF.
    const nothing = new Float64Array(timeS.length);
    const rough = { hertz: 80, meanA: 0, fundamentalA: 0, phase: 0 };
    const fit = fitDiodeLoop(timeS, nothing, source, pilot, rough);
    const deviation = (index: number) => Math.sqrt(fit.covariance[index * 7 + index]!);
    expect(deviation(AT.drop)).toBeLessThanOrEqual(0.1 + 1e-9);
    expect(deviation(AT.slope)).toBeLessThanOrEqual(0.02 + 1e-9);
    expect(deviation(AT.farad)).toBeLessThanOrEqual(2e-8 + 1e-15);
  });
});

describe('a loop that conducts both ways', () => {
  it('is a sine and what is left of a mean', () => {
    const x = timeS.map((t) => 6e-3 * Math.cos(TURN * 80.3 * t) - 8e-3 * Math.sin(TURN * 80.3 * t) + 2e-4);
    const rough = { hertz: 80, meanA: 1e-4, fundamentalA: 9e-3, phase: 2.5 };
    const { fit, cosA, sinA, meanA, hertz, fittedA } = fitPlainLoop(timeS, x, rough, 16e-3);
    expect(cosA).toBeCloseTo(6e-3, 8);
    expect(sinA).toBeCloseTo(-8e-3, 8);
    expect(meanA).toBeCloseTo(2e-4, 8);
    expect(hertz).toBeCloseTo(80.3, 5);
    fittedA.forEach((a, k) => {
      expect(Math.abs(a - x[k]!)).toBeLessThan(1e-8);
    });
    // Of the floor of 0.03 ‰ of the peak: 2σ²/n for the parts at a known phase, σ²/n for the mean.
    const variance = (3e-5 * 16e-3) ** 2;
    expect(fit.covariance[10]! / (variance / 1250)).toBeCloseTo(1, 2);
    expect(fit.freedom).toBe(1250 - 4);
    expect(fit.lines).toEqual([]);
  });
  it('starts with the phase of the projection: a sine at time nothing', () => {
    // One round from the truth is none at all: start and answer agree to the last digit that counts.
    const x = timeS.map((t) => 5e-3 * Math.sin(TURN * 80 * t + 1.1));
    const rough = { hertz: 80, meanA: 0, fundamentalA: 5e-3, phase: 1.1 };
    const { cosA, sinA } = fitPlainLoop(timeS, x, rough, 16e-3);
    expect(cosA).toBeCloseTo(5e-3 * Math.sin(1.1), 9);
    expect(sinA).toBeCloseTo(5e-3 * Math.cos(1.1), 9);
  });
  it('is sought within 2 % of the frequency it starts from', () => {
    for (const [trueHz, foundHz] of [
      [81.5, 81.5],
      [78.5, 78.5],
    ] as const) {
      const x = timeS.map((t) => 5e-3 * Math.sin(TURN * trueHz * t));
      const rough = { hertz: 80, meanA: 0, fundamentalA: 5e-3, phase: 0 };
      expect(fitPlainLoop(timeS, x, rough, 16e-3).hertz).toBeCloseTo(foundHz, 2);
    }
  });
});
