/** Pilot algebra against worked example W14 (shared reference values; textbook half-wave) and waveforms. */
import { describe, expect, it } from 'vitest';
import { loopFigures, openBelowA, type Pilot } from '../../../src/checks/loop-figures.js';
import { depot } from './build.js';
import { halfWaves } from './half-waves.js';

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

describe('figures of stated half waves', () => {
  it.each([
    { series: 10, shunt: Number.POSITIVE_INFINITY, drop: 0 },
    { series: 10, shunt: Number.POSITIVE_INFINITY, drop: 0.7 },
    { series: 300, shunt: 2000, drop: 0 },
    { series: 300, shunt: 2000, drop: 0.7 },
    // As large a drop as no diode has: the terms in κ weigh.
    { series: 40, shunt: 1500, drop: 6 },
    // Mean a tenth of the r.m.s.: still two half waves, not a loop that conducts both ways.
    { series: 500, shunt: 1200, drop: 0 },
  ])('series $series Ω, shunt $shunt Ω, drop $drop V', ({ series, shunt, drop }) => {
    const wave = halfWaves(series, shunt, drop);
    const f = loopFigures(wave, { ...pilot, diodeDropV: drop });
    expect(f.seriesOhm).toBeCloseTo(series, 2);
    if (Number.isFinite(shunt)) expect(f.shuntOhm / shunt).toBeCloseTo(1, 5);
    else expect(f.shuntOhm).toBeGreaterThan(1e6);
    expect(f.asymmetry).toBeCloseTo((wave.a - wave.b) / (wave.a + wave.b), 5);
    expect(f).toMatchObject({ meanA: wave.meanA, rmsA: wave.rmsA });
  });
  it('takes no drop into account where the current flows both ways', () => {
    const peakA = (12 * Math.SQRT2) / (1000 + 45);
    const crushed = { meanA: 0, rmsA: peakA / Math.SQRT2, peakPositiveA: peakA, peakNegativeA: -peakA };
    const f = loopFigures(crushed, { ...pilot, diodeDropV: 6 });
    expect(f.seriesOhm).toBeCloseTo(45, 6);
    expect(f.asymmetry).toBeCloseTo(0, 6);
  });
  it('gives a reversed diode the asymmetry of a sound one with the other sign', () => {
    const { a, b, ...wave } = halfWaves(10, Number.POSITIVE_INFINITY, 0.7);
    const reversed = { ...wave, meanA: -wave.meanA, peakPositiveA: -b, peakNegativeA: -a };
    expect(loopFigures(reversed, pilot).asymmetry).toBeCloseTo(-1, 5);
    expect(loopFigures(reversed, pilot).verdict).toBe('reversed');
  });
});

describe('limits of the verdicts', () => {
  const rig = depot.pilot!;
  it.each([
    [3010, 'open'],
    [2990, 'leaky'],
    [630, 'leaky'],
    [620, 'crushed'],
    [0, 'crushed'],
  ])('conducting both ways through %d Ω: %s', (ohm, verdict) => {
    const peakA = (12 * Math.SQRT2) / (1000 + ohm);
    const both = { meanA: 0, rmsA: peakA / Math.SQRT2, peakPositiveA: peakA, peakNegativeA: -peakA };
    expect(loopFigures(both, rig).verdict).toBe(verdict);
  });
  it.each([
    [44.5, Number.POSITIVE_INFINITY, 'genuine'],
    [45.5, Number.POSITIVE_INFINITY, 'high-resistance'],
    [10, 3010, 'genuine'],
    [10, 2990, 'doubtful'],
    [10, 1260, 'doubtful'],
    [10, 1240, 'leaky'],
  ])('series %d Ω beside a shunt of %d Ω: %s', (series, shunt, verdict) => {
    expect(loopFigures(halfWaves(series, shunt, rig.diodeDropV), rig).verdict).toBe(verdict);
  });
  it('passes a figure that stands exactly at its limit, and a shunt of exactly the least', () => {
    const wave = halfWaves(40, 3500, rig.diodeDropV);
    const { seriesOhm, shuntOhm } = loopFigures(wave, rig);
    expect(loopFigures(wave, { ...rig, maxSeriesOhm: seriesOhm }).verdict).toBe('genuine');
    expect(loopFigures(wave, { ...rig, genuineShuntOhm: shuntOhm }).verdict).toBe('genuine');
    const doubtful = { ...rig, minShuntOhm: shuntOhm, genuineShuntOhm: 2 * shuntOhm };
    expect(loopFigures(wave, doubtful).verdict).toBe('doubtful');
    expect(loopFigures(wave, { ...doubtful, minShuntOhm: 1.001 * shuntOhm }).verdict).toBe('leaky');
  });
  it('gives a current both ways exactly at a limit to the higher resistance', () => {
    const both = { meanA: 0, rmsA: 5e-3, peakPositiveA: 7.07e-3, peakNegativeA: -7.07e-3 };
    const { seriesOhm } = loopFigures(both, rig);
    expect(loopFigures(both, { ...rig, genuineShuntOhm: seriesOhm }).verdict).toBe('open');
    expect(loopFigures(both, { ...rig, minShuntOhm: 2 * seriesOhm }).verdict).toBe('leaky');
  });
  it('is open below a tenth of the r.m.s. of a sound half wave: 0.845 mA', () => {
    // 12 V·√2 ÷ (1000 + 3) Ω is the sound peak, half of it the r.m.s.
    expect(openBelowA(rig)).toBeCloseTo((0.1 * ((12 * Math.SQRT2) / 1003)) / 2, 12);
    const half = (rmsA: number) => ({
      meanA: (2 * rmsA) / Math.PI,
      rmsA,
      peakPositiveA: 2 * rmsA,
      peakNegativeA: 0,
    });
    const open = loopFigures(half(0.999 * openBelowA(rig)), rig);
    expect(open).toMatchObject({ verdict: 'open', seriesOhm: Number.POSITIVE_INFINITY });
    expect(loopFigures(half(openBelowA(rig)), { ...rig, diodeDropV: 0 }).verdict).not.toBe('open');
  });
  it.each([
    { what: 'no mean, though hardly any current', meanA: Number.NaN, rmsA: 1e-5 },
    { what: 'an endless mean', meanA: Number.POSITIVE_INFINITY, rmsA: 8e-3 },
    { what: 'no r.m.s.', meanA: 5e-3, rmsA: Number.NaN },
    { what: 'an endless r.m.s.', meanA: 5e-3, rmsA: Number.POSITIVE_INFINITY },
    { what: 'a negative r.m.s.', meanA: 0, rmsA: -8e-3 },
    // Mean ÷ r.m.s. of a sine rectified both ways is 0.900; no pilot goes beyond.
    { what: 'more mean than any sine has', meanA: 0.91 * 8e-3, rmsA: 8e-3 },
  ])('knows no figure from $what', ({ meanA, rmsA }) => {
    const f = loopFigures({ meanA, rmsA, peakPositiveA: 16e-3, peakNegativeA: 0 }, { ...rig, diodeDropV: 0 });
    expect(f.verdict).toBe('unclear');
    expect([f.seriesOhm, f.shuntOhm, f.asymmetry]).toEqual([Number.NaN, Number.NaN, Number.NaN]);
  });
  it.each([
    { high: 0.29, low: 0, verdict: 'genuine' },
    { high: 0.31, low: 0, verdict: 'unclear' },
    { high: -0.29, low: 0, verdict: 'genuine' },
    { high: -0.31, low: 0, verdict: 'unclear' },
    { high: 0, low: 0.29, verdict: 'genuine' },
    { high: 0, low: 0.31, verdict: 'unclear' },
    { high: 0, low: -0.31, verdict: 'unclear' },
  ])('peaks off by $high and $low of the sound peak: $verdict', ({ high, low, verdict }) => {
    const wave = halfWaves(10, 4000, rig.diodeDropV);
    const soundA = (12 * Math.SQRT2) / 1003;
    const peaks = {
      peakPositiveA: wave.peakPositiveA + high * soundA,
      peakNegativeA: wave.peakNegativeA + low * soundA,
    };
    expect(loopFigures({ ...wave, ...peaks }, rig).verdict).toBe(verdict);
  });
});
