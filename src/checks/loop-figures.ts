/**
 * What the pilot current tells about the loop, by algebra alone.
 *
 * The source drives a sine through its own resistance into the loop; at the far end sits a diode; leakage is
 * a shunt from the pilot core to its return, beside core and diode. In the half wave the diode conducts the
 * current has a peak `a` (as if the diode dropped nothing), in the other only the shunt conducts, peak `b`:
 *
 *   mean  = m1·a − b/π        m1, m2: mean and mean square of (sin θ − κ) over the conducting part of a whole
 *   rms²  = m2·a² + b²/4              period, κ = diode drop ÷ peak voltage; 1/π and 1/4 without a drop
 *
 * Two equations, two unknowns. Mean alone could be forged by a smaller current, r.m.s. alone by a bridged
 * diode: both together, and the asymmetry between the two half waves, say which.
 */
import type { Rig } from '../rig/schema.js';

export type Pilot = NonNullable<Rig['pilot']>;

export interface LoopFeatures {
  readonly meanA: number;
  readonly rmsA: number;
  readonly peakPositiveA: number;
  readonly peakNegativeA: number;
}

export type LoopVerdict =
  | 'genuine'
  | 'open'
  | 'crushed'
  | 'reversed'
  | 'leaky'
  | 'doubtful' // shunt between its trip value and what may be called genuine
  | 'high-resistance'
  | 'unclear';

export interface LoopFigures {
  readonly seriesOhm: number;
  readonly shuntOhm: number;
  readonly meanA: number;
  readonly rmsA: number;
  /** (a − b) ÷ (a + b): 1 sound, 0 conducts both ways, negative reversed. */
  readonly asymmetry: number;
  readonly verdict: LoopVerdict;
}

/** Below this share of a sound loop's r.m.s. the loop is open. */
const OPEN_SHARE = 0.1;
/** Conducts both ways: the half waves differ by less than this. */
export const SYMMETRIC = 0.1;
/** A peak may differ from the one that mean and r.m.s. predict by this share of the nominal peak. */
const PEAK_SHARE = 0.3;

/** Mean and mean square over one period of sin θ − κ where positive. */
function halfWave(kappa: number): { m1: number; m2: number } {
  const start = Math.asin(Math.min(1, kappa));
  const width = Math.PI - 2 * start;
  const m1 = (2 * Math.cos(start) - kappa * width) / (2 * Math.PI);
  const square = width / 2 + Math.sin(2 * start) / 2 - 4 * kappa * Math.cos(start) + kappa * kappa * width;
  return { m1, m2: square / (2 * Math.PI) };
}

/** Peaks of both half waves from mean and r.m.s., the conducting one first. NaN when they fit no wave. */
function peaks(meanA: number, rmsA: number, kappa: number): { a: number; b: number } {
  const { m1, m2 } = halfWave(kappa);
  const quarter = (Math.PI * Math.PI) / 4;
  // Put b = π·(m1·a − mean) into the second equation and take the larger root.
  const p = m2 + quarter * m1 * m1;
  const q = -2 * quarter * m1 * meanA;
  const r = quarter * meanA * meanA - rmsA * rmsA;
  // So much mean for so little r.m.s. that the root is not real: no such wave.
  const a = (-q + Math.sqrt(q * q - 4 * p * r)) / (2 * p);
  return { a, b: Math.max(0, Math.PI * (m1 * a - meanA)) };
}

/** Peak current through a sound loop without diode drop. */
const nominalPeak = (pilot: Pilot): number =>
  (pilot.sourceVrms * Math.SQRT2) / (pilot.sourceOhm + pilot.coreOhm);

/** R.m.s. current below which the loop is open: half a sine's r.m.s. is half its peak. */
export const openBelowA = (pilot: Pilot): number => (OPEN_SHARE * nominalPeak(pilot)) / 2;

export function loopFigures(features: LoopFeatures, pilot: Pilot): LoopFigures {
  const { meanA, rmsA } = features;
  const peakV = pilot.sourceVrms * Math.SQRT2;
  const nominalPeakA = nominalPeak(pilot);
  const none = Number.NaN;
  const unclear = (): LoopFigures => ({
    seriesOhm: none,
    shuntOhm: none,
    meanA,
    rmsA,
    asymmetry: none,
    verdict: 'unclear',
  });
  if (!(Number.isFinite(meanA) && rmsA >= 0)) return unclear();
  if (rmsA < openBelowA(pilot)) {
    const seriesOhm = Number.POSITIVE_INFINITY;
    return { seriesOhm, shuntOhm: none, meanA, rmsA, asymmetry: none, verdict: 'open' };
  }
  // Conducts both ways: no diode anywhere in the path, so its drop must not be taken into account.
  const bothWays = Math.abs(meanA) <= SYMMETRIC * rmsA * 0.5;
  const kappa = bothWays ? 0 : pilot.diodeDropV / peakV;
  const { a, b } = peaks(Math.abs(meanA), rmsA, kappa);
  if (!Number.isFinite(a)) return unclear();
  const asymmetry = (Math.sign(meanA) || 1) * ((a - b) / (a + b));
  // Infinite without current in the other half wave.
  const shuntOhm = Math.max(0, peakV / b - pilot.sourceOhm);
  const bothOhm = peakV / a - pilot.sourceOhm;
  const seriesOhm = bothWays ? bothOhm : 1 / (1 / bothOhm - 1 / shuntOhm);
  const verdict = verdictOf({ seriesOhm, shuntOhm, asymmetry }, features, a, b, nominalPeakA, pilot);
  return { seriesOhm, shuntOhm, meanA, rmsA, asymmetry, verdict };
}

function verdictOf(
  figures: Pick<LoopFigures, 'seriesOhm' | 'shuntOhm' | 'asymmetry'>,
  features: LoopFeatures,
  a: number,
  b: number,
  nominalPeakA: number,
  pilot: Pilot,
): LoopVerdict {
  const { asymmetry, shuntOhm, seriesOhm } = figures;
  if (Math.abs(asymmetry) < SYMMETRIC) {
    // Symmetric and through kilohms: not the bridged diode but leakage with the loop gone.
    if (seriesOhm >= pilot.genuineShuntOhm) return 'open';
    return seriesOhm >= pilot.minShuntOhm / 2 ? 'leaky' : 'crushed';
  }
  if (asymmetry < 0) return 'reversed';
  const tolA = PEAK_SHARE * nominalPeakA;
  const peaksFit =
    Math.abs(features.peakPositiveA - a) <= tolA && Math.abs(-features.peakNegativeA - b) <= tolA;
  if (!peaksFit) return 'unclear';
  if (!(shuntOhm >= pilot.minShuntOhm)) return 'leaky';
  if (!(shuntOhm >= pilot.genuineShuntOhm)) return 'doubtful';
  if (!(seriesOhm <= pilot.maxSeriesOhm)) return 'high-resistance';
  return 'genuine';
}
