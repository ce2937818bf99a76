/**
 * What a recorded pilot current proves: series and shunt resistance of the loop with their uncertainty, and a
 * verdict. Where `loopFigures` makes do with four figures of a window, this has every sample.
 *
 * All resistances are as seen from the charger's end of the cable. Where along the cable a leak sits cannot be
 * told from the current: at the far end the same current is drawn by a leak smaller by up to the series
 * resistance, so the leak itself lies between `shuntOhm − seriesOhm` and `shuntOhm`. The verdict takes the lower.
 */
import { asEstimate, type Estimate, evenly, reciprocal } from './estimate.js';
import { joined, student95 } from './least-squares.js';
import { fitDiodeLoop, fitPlainLoop } from './loop-candidates.js';
import type { Pilot } from './loop-figures.js';
import type { LoopFit } from './loop-fit.js';
import type { Line } from './loop-lines.js';
import { project } from './loop-lines.js';
import { AT, type PilotSource, pilotCurrent } from './loop-model.js';
import { interrupted, systematic } from './loop-residual.js';

export const WAVEFORM_VERDICTS = [
  'genuine',
  'open',
  'crushed',
  'reversed',
  'leaky',
  'high-resistance',
  'unclear',
] as const;
export type WaveformVerdict = (typeof WAVEFORM_VERDICTS)[number];

export interface LoopMeasurement {
  readonly verdict: WaveformVerdict;
  /** In words, with the figure that decided. */
  readonly reason: string;
  /** Of the pilot current alone, without noise and pick-up, A; with 95 % bounds like all that follow. */
  readonly meanA: Estimate;
  readonly rmsA: Estimate;
  /** (a − b) ÷ (a + b) of both half waves' peaks: 1 sound, 0 conducts both ways, negative reversed. */
  readonly asymmetry: Estimate;
  /** Ω. Infinity when open. */
  readonly seriesOhm: Estimate;
  /** Ω. Infinity when none is seen. */
  readonly shuntOhm: Estimate;
  readonly frequencyHz: number;
  readonly periods: number;
  readonly pointsPerPeriod: number;
  /** Standard deviation of what neither loop nor pick-up explains, A. */
  readonly noiseA: number;
  readonly pickUp: readonly Line[];
  /** Pilot current of the fitted loop at the recording's times, A; for drawing. */
  readonly fittedA: Float64Array;
}

/** Fewer say too little to be called a recording of the pilot. */
export const MIN_PERIODS = 5;
export const MIN_POINTS_PER_PERIOD = 8;

/** Below this share of a sound loop's current the loop is open. */
const OPEN_SHARE = 0.1;
/** The half waves differ by less: conducts both ways. */
const SYMMETRIC = 0.1;
/** Genuine needs the leak this many standard deviations on the safe side: one in a thousand goes wrong. */
const LEAK_PROOF_DEVIATIONS = 3;
/** And the series resistance this many: a joint that worsens further ends in an open loop, which is safe. */
const SERIES_PROOF_DEVIATIONS = 2;
/** No cable picks up more than this share of the pilot's peak and is fit to be judged. */
const MAX_PICK_UP_SHARE = 0.3;
/** What the model leaves unexplained in step with the pilot, as a share of the peak. */
const MAX_MISFIT_SHARE = 0.02;

/**
 * @param timeS rising, s
 * @param currentA through the source resistor, A, as many as times
 */
export function loopFromWaveform(timeS: Float64Array, currentA: Float64Array, pilot: Pilot): LoopMeasurement {
  const source: PilotSource = { peakV: Math.SQRT2 * pilot.sourceVrms, ohm: pilot.sourceOhm };
  const soundPeakA = source.peakV / (source.ohm + pilot.coreOhm);
  const rough = roughly(timeS, currentA, pilot.frequencyHz);
  const spanS = timeS[timeS.length - 1]! - timeS[0]!;
  const shape = {
    periods: spanS * rough.hertz,
    pointsPerPeriod: (timeS.length - 1) / (spanS * rough.hertz),
  };
  const isOpen = rough.fundamentalA < (OPEN_SHARE * soundPeakA) / 2;
  const tilt = (Math.PI * rough.meanA) / (2 * rough.fundamentalA);
  const measured =
    isOpen || Math.abs(tilt) < SYMMETRIC
      ? bothWays(timeS, currentA, source, pilot, rough, soundPeakA)
      : oneWay(timeS, currentA, source, pilot, rough, soundPeakA);
  if (!(shape.periods >= MIN_PERIODS && shape.pointsPerPeriod >= MIN_POINTS_PER_PERIOD)) {
    const few = `${shape.periods.toFixed(1)} periods of ${shape.pointsPerPeriod.toFixed(1)} points are too few`;
    return { ...measured, ...shape, verdict: 'unclear', reason: few };
  }
  return { ...measured, ...shape };
}

interface Rough {
  readonly hertz: number;
  readonly meanA: number;
  readonly fundamentalA: number;
  /** Phase of the fundamental as a sine at time 0. */
  readonly phase: number;
}

/** The pilot's own frequency is sought this far from the stated one. */
const FREQUENCY_SHARE = 0.01;
const MAX_TRIES = 200;

/** Frequency, mean and fundamental by projection: a start for the fit and a first sorting. */
function roughly(timeS: Float64Array, currentA: Float64Array, statedHz: number): Rough {
  const spanS = timeS[timeS.length - 1]! - timeS[0]!;
  const tries = Math.min(MAX_TRIES, Math.ceil(FREQUENCY_SHARE * statedHz * spanS * 10));
  let hertz = statedHz;
  let best = 0;
  for (let k = -tries; k <= tries; k++) {
    const at = statedHz * (1 + (FREQUENCY_SHARE * k) / tries);
    const { cos, sin } = project(timeS, currentA, at);
    if (cos * cos + sin * sin <= best) continue;
    best = cos * cos + sin * sin;
    hertz = at;
  }
  // Whole periods only, or half a wave counts as direct current.
  const wholeS = Math.max(1, Math.floor(spanS * hertz)) / hertz;
  let n = 0;
  while (n < timeS.length && timeS[n]! - timeS[0]! < wholeS) n++;
  const t = timeS.subarray(0, n);
  const x = currentA.subarray(0, n);
  let sum = 0;
  for (const a of x) sum += a;
  const { cos, sin } = project(t, x, hertz);
  return {
    hertz,
    meanA: sum / n,
    fundamentalA: (2 * Math.hypot(cos, sin)) / n,
    phase: Math.atan2(cos, sin),
  };
}

type Measured = Omit<LoopMeasurement, 'periods' | 'pointsPerPeriod'>;

/** A loop that conducts both ways alike, or not at all: one resistance is all there is to see. */
function bothWays(
  timeS: Float64Array,
  currentA: Float64Array,
  source: PilotSource,
  pilot: Pilot,
  rough: Rough,
  soundPeakA: number,
): Measured {
  const { fit, cosA, sinA, meanA, hertz, fittedA } = fitPlainLoop(timeS, currentA, rough, soundPeakA);
  const wide = student95(fit.freedom);
  const off = (index: number): number => wide * Math.sqrt(fit.covariance[index * 4 + index]!);
  const peakA = Math.hypot(cosA, sinA);
  const offPeakA = Math.max(off(0), off(1));
  const seen = reciprocal(
    1 / Math.max(1e-3, source.peakV / peakA - source.ohm),
    (offPeakA * source.peakV) /
      (source.peakV - Math.min(peakA, 0.95 * (source.peakV / source.ohm)) * source.ohm) ** 2,
  );
  const tilt = (Math.PI * meanA) / (2 * peakA);
  const common = {
    meanA: evenly(meanA, off(2)),
    rmsA: evenly(peakA * Math.SQRT1_2, offPeakA * Math.SQRT1_2),
    asymmetry: evenly(tilt, ((Math.PI / 2) * Math.hypot(off(2), tilt * offPeakA)) / peakA),
    shuntOhm: seen,
    frequencyHz: hertz,
    noiseA: fit.noiseA,
    pickUp: fit.lines,
    fittedA,
  };
  const none = asEstimate(Number.POSITIVE_INFINITY, seen.atLeast, Number.POSITIVE_INFINITY);
  const spoilt = doubt(timeS, fit, hertz, soundPeakA);
  if (spoilt !== null) return { ...common, seriesOhm: seen, verdict: 'unclear', reason: spoilt };
  if (peakA < (OPEN_SHARE * soundPeakA) / 2) {
    const other = otherCurrent(fit, meanA, offPeakA, soundPeakA);
    return other === null
      ? { ...common, seriesOhm: none, verdict: 'open', reason: 'no pilot current' }
      : { ...common, seriesOhm: none, verdict: 'unclear', reason: other };
  }
  const ohms = `${seen.value.toFixed(0)} ohm both ways`;
  if (seen.value >= pilot.genuineShuntOhm)
    return { ...common, seriesOhm: none, verdict: 'open', reason: `nothing but a leak of ${ohms}` };
  if (seen.value >= pilot.minShuntOhm / 2)
    return { ...common, seriesOhm: none, verdict: 'leaky', reason: `no diode seen, ${ohms}` };
  return { ...common, seriesOhm: seen, verdict: 'crushed', reason: `conducts ${ohms}` };
}

/** A loop with a diode, the right way round or not. */
function oneWay(
  timeS: Float64Array,
  currentA: Float64Array,
  source: PilotSource,
  pilot: Pilot,
  rough: Rough,
  soundPeakA: number,
): Measured {
  const reversed = rough.meanA < 0;
  const sign = reversed ? -1 : 1;
  const fit = fitDiodeLoop(timeS, reversed ? currentA.map((x) => -x) : currentA, source, pilot, {
    ...rough,
    meanA: Math.abs(rough.meanA),
    phase: reversed ? rough.phase + Math.PI : rough.phase,
  });
  const hertz = fit.at[AT.hertz]!;
  const { variance, misfitA } = systematic(timeS, fit, hertz);
  const wide = student95(fit.freedom) * Math.sqrt(variance);
  const deviation = (index: number): number => Math.sqrt(fit.covariance[index * fit.at.length + index]!);
  const figures = figuresOf(fit, source).map(({ value, deviation: d }) => ({ value, off: wide * d }));
  const [mean, rms, tilt] = figures as [Figure, Figure, Figure];
  const series = fit.at[AT.series]!;
  const fittedA = new Float64Array(timeS.length);
  pilotCurrent(fit.at, source, timeS, fittedA);
  const common = {
    meanA: evenly(sign * mean.value, mean.off),
    rmsA: evenly(rms.value, rms.off),
    asymmetry: evenly(sign * tilt.value, tilt.off),
    seriesOhm: evenly(Math.max(0, series), wide * deviation(AT.series)),
    shuntOhm: reciprocal(fit.at[AT.leakS]!, wide * deviation(AT.leakS)),
    frequencyHz: hertz,
    noiseA: fit.noiseA,
    pickUp: fit.lines.map((l) => ({ ...l, cosA: sign * l.cosA, sinA: sign * l.sinA })),
    fittedA: reversed ? fittedA.map((x) => -x) : fittedA,
  };
  const spoilt =
    misfitA > MAX_MISFIT_SHARE * soundPeakA
      ? `the current fits no loop: ${(misfitA * 1000).toFixed(3)} mA r.m.s. in step with the pilot is unexplained`
      : doubt(timeS, fit, hertz, soundPeakA);
  if (spoilt !== null) return { ...common, verdict: 'unclear', reason: spoilt };
  if (reversed) return { ...common, verdict: 'reversed', reason: 'the diode conducts the other way' };
  const spread = Math.sqrt(variance);
  return {
    ...common,
    ...judge(
      { value: Math.max(0, series), off: SERIES_PROOF_DEVIATIONS * spread * deviation(AT.series) },
      { value: fit.at[AT.leakS]!, off: LEAK_PROOF_DEVIATIONS * spread * deviation(AT.leakS) },
      pilot,
    ),
  };
}

interface Figure {
  readonly value: number;
  readonly off: number;
}

/** @param leakS conductance of the leak, S */
function judge(series: Figure, leakS: Figure, pilot: Pilot): { verdict: WaveformVerdict; reason: string } {
  const shuntOhm = leakS.value > 0 ? 1 / leakS.value : Number.POSITIVE_INFINITY;
  const provenOhm = 1 / (Math.max(0, leakS.value) + leakS.off) - series.value;
  const shown = (ohm: number): string => (Number.isFinite(ohm) ? `${ohm.toFixed(0)} ohm` : 'none');
  if (!(shuntOhm > pilot.minShuntOhm)) {
    return {
      verdict: 'leaky',
      reason: `shunt ${shown(shuntOhm)}, not above ${pilot.minShuntOhm} ohm (pilot.minShuntOhm)`,
    };
  }
  if (!(series.value <= pilot.maxSeriesOhm)) {
    return {
      verdict: 'high-resistance',
      reason: `series ${series.value.toFixed(1)} ohm, above ${pilot.maxSeriesOhm} ohm (pilot.maxSeriesOhm)`,
    };
  }
  if (!(provenOhm >= pilot.genuineShuntOhm)) {
    return {
      verdict: 'unclear',
      reason:
        `shunt ${shown(shuntOhm)}, proven above ${shown(provenOhm)} wherever the leak sits, ` +
        `genuine needs ${pilot.genuineShuntOhm} ohm (pilot.genuineShuntOhm)`,
    };
  }
  const mostOhm = series.value + series.off;
  if (!(mostOhm <= pilot.maxSeriesOhm)) {
    return {
      verdict: 'unclear',
      reason:
        `series ${series.value.toFixed(1)} ohm, proven only below ${mostOhm.toFixed(1)} ohm, ` +
        `limit ${pilot.maxSeriesOhm} ohm (pilot.maxSeriesOhm)`,
    };
  }
  return { verdict: 'genuine', reason: 'series, shunt and diode are within their limits' };
}

/** An open loop carries next to nothing at all: current that is not the pilot's says the recording is of something else. */
function otherCurrent(fit: LoopFit, meanA: number, offPeakA: number, soundPeakA: number): string | null {
  const inMilli = (a: number): string => `${(a * 1000).toPrecision(3)} mA`;
  for (const { cosA, sinA, hertz } of fit.lines) {
    const peakA = Math.hypot(cosA, sinA);
    if (!(peakA <= MAX_PICK_UP_SHARE * soundPeakA))
      return `${inMilli(peakA)} at ${hertz.toPrecision(4)} Hz, none at the pilot's frequency`;
  }
  if (!(Math.abs(meanA) <= OPEN_SHARE * soundPeakA)) return `a direct current of ${inMilli(meanA)}, no pilot`;
  if (!(offPeakA <= (OPEN_SHARE * soundPeakA) / 2)) return `noise of ${inMilli(fit.noiseA)} hides any pilot`;
  return null;
}

function doubt(timeS: Float64Array, fit: LoopFit, hertz: number, soundPeakA: number): string | null {
  const brokenS = interrupted(timeS, fit.residualA, soundPeakA);
  if (brokenS !== null) return `the current breaks off or jumps at ${brokenS.toFixed(4)} s`;
  if (!(Number.isFinite(fit.noiseA) && Number.isFinite(hertz))) return 'the fit came to no end';
  return null;
}

/** Points of one period for mean, r.m.s. and peaks of the fitted current. */
const FIGURE_POINTS = 400;

/** Mean, r.m.s. and asymmetry of the fitted pilot current, with standard deviations by propagation. */
function figuresOf(fit: LoopFit, source: PilotSource): { value: number; deviation: number }[] {
  const p = fit.at.length;
  const one = new Float64Array(FIGURE_POINTS);
  const of = (at: Float64Array): [number, number, number] => {
    const times = one.map((_, k) => k / FIGURE_POINTS / at[AT.hertz]!);
    const current = new Float64Array(FIGURE_POINTS);
    pilotCurrent(at, source, times, current);
    let [sum, squares, high, low] = [0, 0, 0, 0];
    for (const x of current) {
      sum += x;
      squares += x * x;
      high = Math.max(high, x);
      low = Math.min(low, x);
    }
    return [sum / FIGURE_POINTS, Math.sqrt(squares / FIGURE_POINTS), (high + low) / (high - low)];
  };
  const here = of(fit.at);
  const slopes = Array.from(fit.at, (x, i) => {
    const step = 0.01 * Math.sqrt(fit.covariance[i * p + i]!);
    return of(fit.at.with(i, x + step)).map((figure, k) => (figure - here[k]!) / step);
  });
  return here.map((value, k) => {
    const by = slopes.map((slope) => slope[k]!);
    return { value, deviation: Math.sqrt(Math.max(0, joined(by, fit.covariance, by))) };
  });
}
