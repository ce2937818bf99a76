/**
 * The known-resistor method, solved by algebra: what leaks from each pole of a live floating network to
 * chassis, from settled pairs of pole voltages with a known resistor switched to one pole at a time.
 *
 * With leakage conductances Gp and Gn (voltmeters included) the current into chassis from one pole equals the
 * current out of it to the other: V1·Gp = V2·Gn. A known resistor G0 on the positive pole makes it
 * V1·(Gp+G0) = V2·Gn, on the negative pole V1′·Gp = V2′·(Gn+G0). Two switch positions, two unknowns; a
 * symmetrical fault, which leaves the voltages balanced, cannot hide.
 */
import type { PolePair } from './settle.js';

export interface Leakage {
  readonly positiveOhm: number;
  readonly negativeOhm: number;
  /** Both poles together, as an injecting monitor would show it. */
  readonly parallelOhm: number;
  /** The lower single pole. */
  readonly lowerOhm: number;
  /** Sum of all conductances to chassis at the first position, S: with it a time constant gives the capacitance. */
  readonly totalS: number;
}

/** Conductance to resistance; a leak too small to see, or below what the voltmeters themselves draw, is none. */
const ohms = (siemens: number): number => (siemens > 0 ? 1 / siemens : Number.POSITIVE_INFINITY);

/**
 * UN R100 rev 2, annex: Ri = R0·Vb·(1/V1′ − 1/V1), V1 the pole-to-chassis voltage of the pole that read higher
 * without the resistor, V1′ the same with the resistor R0 on that pole. It returns the lower single-pole
 * resistance, the voltmeter's own included.
 */
export const lowerPoleOhm = (knownOhm: number, bothV: number, withoutV: number, withV: number): number =>
  knownOhm * bothV * (1 / withV - 1 / withoutV);

/** What the isolation is without the voltmeter that reads it. */
export const withoutMeter = (seenOhm: number, meterOhm: number): number =>
  seenOhm < meterOhm ? 1 / (1 / seenOhm - 1 / meterOhm) : Number.POSITIVE_INFINITY;

/** Both poles from the two switch positions. NaN where the readings fit no network. */
export function solveTwoPositions(
  onPositive: PolePair,
  onNegative: PolePair,
  knownOhm: number,
  meterOhm: number,
): Leakage {
  const g0 = 1 / knownOhm;
  const gMeter = 1 / meterOhm;
  const ratioA = onPositive.negativeV / onPositive.positiveV;
  const ratioB = onNegative.negativeV / onNegative.positiveV;
  const fits = ratioA > ratioB && ratioB >= 0 && Number.isFinite(ratioA);
  const negativeS = fits ? (g0 * (1 + ratioB)) / (ratioA - ratioB) : Number.NaN;
  const positiveS = ratioB * (negativeS + g0);
  return fromConductances(positiveS, negativeS, g0, gMeter);
}

function fromConductances(positiveS: number, negativeS: number, g0: number, gMeter: number): Leakage {
  const known = Number.isFinite(positiveS + negativeS);
  if (!known) {
    const nan = Number.NaN;
    return { positiveOhm: nan, negativeOhm: nan, parallelOhm: nan, lowerOhm: nan, totalS: nan };
  }
  const positiveOhm = ohms(positiveS - gMeter);
  const negativeOhm = ohms(negativeS - gMeter);
  return {
    positiveOhm,
    negativeOhm,
    parallelOhm: ohms(Math.max(0, positiveS - gMeter) + Math.max(0, negativeS - gMeter)),
    lowerOhm: Math.min(positiveOhm, negativeOhm),
    totalS: positiveS + negativeS + g0,
  };
}

/** However small a reading, the ratio of a pair is not taken to be worse than this. */
const MOST_OFF = 0.5;

/**
 * The same with each ratio off by `share`, and by `floorV` of the smaller reading, the worse way: a reading at
 * the limit passes only when it is above it by its uncertainty. A pole of megohms reads a few volts, of which
 * the voltmeter's own step is the greater part of what it may be off.
 *
 * Both conductances grow as the first ratio falls and the second rises: one way is the worse for both poles. What
 * cannot be solved that way is not solved.
 */
export function solveUnfavourably(
  onPositive: PolePair,
  onNegative: PolePair,
  knownOhm: number,
  meterOhm: number,
  share: number,
  floorV = 0,
): Leakage {
  const off = (pair: PolePair, sign: number): PolePair => {
    const smallerV = Math.min(Math.abs(pair.positiveV), Math.abs(pair.negativeV));
    const p = Math.min(MOST_OFF, share + (floorV > 0 ? floorV / smallerV : 0));
    return { ...pair, positiveV: pair.positiveV * (1 + sign * p) };
  };
  return solveTwoPositions(off(onPositive, 1), off(onNegative, -1), knownOhm, meterOhm);
}

/**
 * A dead network injected on both poles through one resistor each: the parallel resistance to chassis from
 * what the resistors lose. Right whether the poles are coupled (by a capacitor) or not, and never too high.
 */
export function injectedParallelOhm(
  pair: { readonly positiveV: number; readonly negativeV: number },
  injectionV: number,
  injectionOhm: number,
  meterOhm: number,
): number {
  const leakS = (volts: number): number => (injectionV - volts) / (injectionOhm * volts);
  const within = (volts: number): boolean => volts <= injectionV * 1.02;
  // Zero volts against the injection is a dead short, if the injection is there at all: the lowest of figures.
  if (pair.positiveV <= 0 || pair.negativeV <= 0) return 0;
  if (!(within(pair.positiveV) && within(pair.negativeV))) return Number.NaN;
  return ohms(leakS(pair.positiveV) + leakS(pair.negativeV) - 2 / meterOhm);
}

/**
 * The same on a side whose poles a large capacitor couples, where that still holds what an earlier session left on it:
 * one pole then stands above the injection. What both resistors bring is what both poles leak,
 * (E−Vp)/R + (E−Vn)/R = Vp·Gp + Vn·Gn, and the higher pole takes some back: so Gp + Gn is at most what the lower pole
 * alone seems to leak, which is what is told. Never too high, with poles that are not coupled neither. A source to
 * chassis lifts both poles, and is no more taken for a charge than without one: then it is NaN.
 * @param mostApartV more than this between the poles is no dead side
 */
export function injectedApartOhm(
  pair: { readonly positiveV: number; readonly negativeV: number },
  injectionV: number,
  injectionOhm: number,
  meterOhm: number,
  mostApartV: number,
): number {
  const { positiveV, negativeV } = pair;
  const lowerV = Math.min(positiveV, negativeV);
  const isCharged = Math.max(positiveV, negativeV) >= injectionV;
  const isDead =
    Math.abs(positiveV - negativeV) <= mostApartV && positiveV + negativeV <= 2 * injectionV * 1.02;
  if (!isCharged || !isDead || !(lowerV > 0)) return Number.NaN;
  return ohms((injectionV - lowerV) / (injectionOhm * lowerV) - 1 / meterOhm);
}
