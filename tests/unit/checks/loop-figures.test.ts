/** Pilot algebra against worked example W14 (shared reference values; textbook half-wave) and waveforms. */
import { describe, expect, it } from 'vitest';
import { loopFigures, type Pilot } from '../../../src/checks/loop-figures.js';
import { depot } from './build.js';

const pilot: Pilot = { ...depot.pilot!, coreOhm: 45 };
const features = (meanMa: number, rmsMa: number, highMa: number, lowMa: number) => ({
  meanA: meanMa / 1000,
  rmsA: rmsMa / 1000,
  peakPositiveA: highMa / 1000,
  peakNegativeA: lowMa / 1000,
});

/** Current sampled over one period by solving the circuit at each instant: another way than the check's. */
function sampled(series: number, shunt: number, drop: number, reversed = false) {
  const n = 20_000;
  let sum = 0;
  let squares = 0;
  let high = 0;
  let low = 0;
  for (let k = 0; k < n; k++) {
    const v = 12 * Math.SQRT2 * Math.sin((2 * Math.PI * (k + 0.5)) / n) * (reversed ? -1 : 1);
    const openV = Number.isFinite(shunt) ? (v * shunt) / (shunt + 1000) : v;
    const innerOhm = Number.isFinite(shunt) ? (1000 * shunt) / (1000 + shunt) : 1000;
    const branchA = openV > drop ? (openV - drop) / (innerOhm + series) : 0;
    const nodeV = openV - branchA * innerOhm;
    const i = ((v - nodeV) / 1000) * (reversed ? -1 : 1);
    sum += i;
    squares += i * i;
    high = Math.max(high, i);
    low = Math.min(low, i);
  }
  return features((1000 * sum) / n, 1000 * Math.sqrt(squares / n), 1000 * high, 1000 * low);
}

describe('W14', () => {
  it('reads 45 Ω and no leakage from an ideal diode (5.169 mA, 8.120 mA)', () => {
    const f = loopFigures(features(5.169, 8.12, 16.24, 0), { ...pilot, diodeDropV: 0 });
    expect(f.seriesOhm).toBeCloseTo(45, 0);
    expect(f.shuntOhm).toBeGreaterThan(200_000);
    expect(f.verdict === 'genuine' || f.seriesOhm > 45).toBe(true);
  });
  it('takes the 0.7 V diode into account (4.839 mA, 7.696 mA)', () => {
    const f = loopFigures(features(4.839, 7.696, 15.57, 0), pilot);
    expect(Math.abs(f.seriesOhm - 45)).toBeLessThan(1.5);
    expect(f.asymmetry).toBeGreaterThan(0.99);
    // Without the drop the same currents would look like a far longer loop: the correction is what matters.
    expect(
      loopFigures(features(4.839, 7.696, 15.57, 0), { ...pilot, diodeDropV: 0 }).seriesOhm,
    ).toBeGreaterThan(90);
  });
  it('calls mean 0, r.m.s. 11.483 mA crushed and nothing at all open', () => {
    expect(loopFigures(features(0, 11.483, 16.24, -16.24), pilot).verdict).toBe('crushed');
    expect(loopFigures(features(0, 0, 0, 0), pilot).verdict).toBe('open');
  });
  it('finds the 1.25 kΩ shunt and asymmetry 0.366 of peaks +16.264 / −7.542 mA', () => {
    const wave = sampled(45, 1250, 0);
    expect(wave.peakPositiveA * 1000).toBeCloseTo(16.264, 2);
    expect(wave.peakNegativeA * 1000).toBeCloseTo(-7.542, 2);
    const f = loopFigures(wave, { ...pilot, diodeDropV: 0 });
    expect(f.asymmetry).toBeCloseTo(0.366, 3);
    expect(Math.abs(f.shuntOhm - 1250)).toBeLessThan(5);
  });
});

describe('verdicts of sampled waveforms', () => {
  it.each([
    [10, Number.POSITIVE_INFINITY, 'genuine'],
    [10, 4000, 'genuine'],
    [10, 2800, 'doubtful'],
    [10, 1000, 'leaky'],
    [60, Number.POSITIVE_INFINITY, 'high-resistance'],
  ])('series %d Ω, shunt %d Ω: %s', (series, shunt, verdict) => {
    const f = loopFigures(sampled(series, shunt, 0.7), depot.pilot!);
    expect(f.verdict).toBe(verdict);
    if (Number.isFinite(shunt)) expect(Math.abs(f.shuntOhm / shunt - 1)).toBeLessThan(0.05);
    expect(Math.abs(f.seriesOhm - series)).toBeLessThan(4);
  });
  it('sees a reversed diode', () => {
    expect(loopFigures(sampled(10, Number.POSITIVE_INFINITY, 0.7, true), depot.pilot!).verdict).toBe(
      'reversed',
    );
  });
  it('does not take a small symmetric leak with the loop gone for a bridged diode', () => {
    const peakMa = (12 * Math.SQRT2 * 1000) / 5000;
    expect(loopFigures(features(0, peakMa / Math.SQRT2, peakMa, -peakMa), depot.pilot!).verdict).toBe('open');
  });
  it('calls a wave that no loop makes unclear, and so what cannot be read', () => {
    // The right mean with too little r.m.s.: a direct current.
    expect(loopFigures(features(4.8, 4.8, 4.8, 4.8), depot.pilot!).verdict).toBe('unclear');
    expect(loopFigures(features(Number.NaN, 7.7, 15, 0), depot.pilot!).verdict).toBe('unclear');
    // The right mean and r.m.s. with peaks of another shape.
    expect(loopFigures(features(4.839, 7.696, 30, -9), depot.pilot!).verdict).toBe('unclear');
  });
});
