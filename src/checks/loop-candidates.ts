/** The two loops a pilot current may come from, with where their fits start: with a diode, and plain. */
import type { Pilot } from './loop-figures.js';
import { fitWithLines, type LoopFit } from './loop-fit.js';
import { AT, type PilotSource, pilotCurrent } from './loop-model.js';

export interface Start {
  readonly hertz: number;
  readonly meanA: number;
  readonly fundamentalA: number;
  /** Of the fundamental, as a sine at time 0. */
  readonly phase: number;
}

/** A diode's drop moves 2 mV/K, and types differ: standard deviation of what the rig states. */
const DROP_DEVIATION_V = 0.1;
/** Volts for each e-fold of current: from a hard corner to emission 2 at 60 °C. */
const SLOPE_V = 0.035;
const SLOPE_DEVIATION_V = 0.02;
const SLOPE_LOW_V = 2e-4;
const SLOPE_HIGH_V = 0.12;
const SHARP_DEVIATION_V = 1e-3;
/** A rig that states no drop has a rectifier without corner: the same for any current. */
const IDEAL_DROP_V = 0.1;
/** Some hundred metres of cable. */
const FARAD_DEVIATION = 2e-8;
/** The pilot's frequency may be off by this share. */
const HERTZ_SHARE = 0.02;

/** Series resistance, Ω, and leak, S, of half waves with this fundamental and mean: where the fit starts. */
export function diodeStart(
  { peakV, ohm }: PilotSource,
  diodeDropV: number,
  { fundamentalA, meanA }: Pick<Start, 'fundamentalA' | 'meanA'>,
): { series: number; leakS: number } {
  // Half waves of peak a and b have fundamental (a + b)/2 and mean (a − b)/π.
  const b = Math.max(0, fundamentalA - (Math.PI / 2) * meanA);
  const a = Math.max(1e-6, 2 * fundamentalA - b);
  const leakS = Math.min(0.02, Math.max(1e-5, b / Math.max(0.2 * peakV, peakV - b * ohm)));
  const share = 1 / (1 + leakS * ohm);
  return { series: Math.min(2e4, Math.max(1, (peakV * share - diodeDropV) / a - ohm * share)), leakS };
}

/** @param currentA turned so that the diode conducts in the positive half wave */
export function fitDiodeLoop(
  timeS: Float64Array,
  currentA: Float64Array,
  source: PilotSource,
  pilot: Pilot,
  start: Start,
): LoopFit {
  const { series, leakS } = diodeStart(source, pilot.diodeDropV, start);
  const sharp = pilot.diodeDropV < IDEAL_DROP_V;
  const slope = sharp ? SLOPE_LOW_V : SLOPE_V;
  return fitWithLines(
    {
      start: [series, leakS, pilot.diodeDropV, slope, start.phase, start.hertz, 0],
      low: [-300, -2e-4, -0.3, SLOPE_LOW_V, -20, start.hertz * (1 - HERTZ_SHARE), -1e-6],
      high: [1e5, 0.5, 3, SLOPE_HIGH_V, 20, start.hertz * (1 + HERTZ_SHARE), 1e-6],
      beliefs: [
        { parameter: AT.drop, mean: pilot.diodeDropV, deviation: DROP_DEVIATION_V },
        { parameter: AT.slope, mean: slope, deviation: sharp ? SHARP_DEVIATION_V : SLOPE_DEVIATION_V },
        { parameter: AT.farad, mean: 0, deviation: FARAD_DEVIATION },
      ],
      hertz: AT.hertz,
      evaluate: (at, t, current, slopes) => pilotCurrent(at, source, t, current, slopes),
    },
    timeS,
    currentA,
    source.peakV / source.ohm,
  );
}

export interface PlainLoop {
  readonly fit: LoopFit;
  readonly cosA: number;
  readonly sinA: number;
  readonly meanA: number;
  readonly hertz: number;
  readonly fittedA: Float64Array;
}

/** Conducts both ways alike: a sine and what is left of a mean. */
export function fitPlainLoop(
  timeS: Float64Array,
  currentA: Float64Array,
  start: Start,
  peakA: number,
): PlainLoop {
  const evaluate = (
    at: ArrayLike<number>,
    t: Float64Array,
    current: Float64Array,
    slopes?: readonly Float64Array[],
  ): void => {
    const [cosA, sinA, meanA, hertz] = [at[0]!, at[1]!, at[2]!, at[3]!];
    for (let n = 0; n < current.length; n++) {
      const turn = 2 * Math.PI * hertz * t[n]!;
      const c = Math.cos(turn);
      const s = Math.sin(turn);
      current[n] = cosA * c + sinA * s + meanA;
      if (slopes === undefined) continue;
      slopes[0]![n] = c;
      slopes[1]![n] = s;
      slopes[2]![n] = 1;
      slopes[3]![n] = 2 * Math.PI * t[n]! * (sinA * c - cosA * s);
    }
  };
  const { fundamentalA, phase, meanA, hertz } = start;
  const fit = fitWithLines(
    {
      start: [fundamentalA * Math.sin(phase), fundamentalA * Math.cos(phase), meanA, hertz],
      low: [-1, -1, -1, hertz * (1 - HERTZ_SHARE)],
      high: [1, 1, 1, hertz * (1 + HERTZ_SHARE)],
      beliefs: [],
      hertz: 3,
      evaluate,
    },
    timeS,
    currentA,
    peakA,
  );
  const fittedA = new Float64Array(timeS.length);
  evaluate(fit.at, timeS, fittedA);
  return { fit, cosA: fit.at[0]!, sinA: fit.at[1]!, meanA: fit.at[2]!, hertz: fit.at[3]!, fittedA };
}
