/**
 * What is believed of a cell before its recording is read, and how far the model may be off: the numbers that decide
 * between explanations where a recording alone cannot. Typical of lithium cells; loose, but not without limit.
 */
import type { NormalEquations } from './normal-equations.js';
import type { OcvCurve } from './ocv-table.js';
import { HYSTERESIS_KNOTS, RESISTANCE_KNOTS, type Shape } from './raft-model.js';

/**
 * Errors of the model drift slowly along the charge and in time; a step of the current, over in a moment, is hardly
 * touched by them. So rows are compared with their forerunner: a first-order process with these lengths. Without
 * it, thousands of rows would outvote the few that show a resistance by itself.
 */
export const ERROR = {
  levelV: 0.005,
  /** Of the counted charge, which counts in volts where the curve is steep. */
  soc: 0.006,
  noiseV: 0.0005,
  alongSoc: 0.05,
  alongS: 1800,
} as const;
/** Below this charge the curve steepens, to this many volts per unit at empty. */
const STEEP_FROM_SOC = 0.25;
const STEEP_V = 12;

/** Standard deviation of the model's error at a state of charge. */
export function errorV(soc: number): number {
  const slope = soc < STEEP_FROM_SOC ? Math.max(1, STEEP_V * (1 - soc / STEEP_FROM_SOC)) : 1;
  return Math.hypot(ERROR.levelV, ERROR.soc * slope);
}

/**
 * One activation energy for all states of charge is right to about this share of R0, and to less near empty. In one
 * recording each step has a resistance of its own, so there it does not matter. From memory, no source.
 */
const STEP_SHARE = 0.1;
const STEP_EMPTY_SHARE = 0.4;
export const stepErrorShare = (soc: number): number => (soc < EMPTY_SOC ? STEP_EMPTY_SHARE : STEP_SHARE);

/** R0 times capacity where no step shows R0: cells of many sizes lie about this, V·h. */
const TYPICAL_OHM_AH = 0.06;
/** R0 by the recording's own steps: rows come some time after a step, so it is right only about so well. */
const R0_SD = 0.4;
/** Where no step shows it. */
const R0_UNSEEN_SD = 1;
/** Each pair as a share of R0. */
const PAIR_MEAN = 0.33;
const PAIR_SD = 0.4;
/** Near empty everything may be several times larger. */
const EMPTY_SOC = 0.15;
const EMPTY_FACTOR = 4;
/** Bends between knots, per unit of charge and as a share of R0. */
const R0_BEND = 2;
const PAIR_BEND = 6;
const LEAST_ZERO_SD = 1e-6;

/** The surface's lead times its time constant: seconds of charging current by which the surface is ahead. */
export const LEAD_S = 180;
const LEAD_SD_S = 100;

/** Time constants: a minute's and a quarter of an hour's, each within a factor of three or so. */
export const TAU_1 = { typicalS: 20, sdLog: 1 } as const;
export const TAU_2 = { typicalS: 800, sdLog: 1 } as const;

/** What unusual time constants add to the misfit. */
export const tauMisfit = (tau1S: number, tau2S: number): number =>
  (Math.log(tau1S / TAU_1.typicalS) / TAU_1.sdLog) ** 2 +
  (Math.log(tau2S / TAU_2.typicalS) / TAU_2.sdLog) ** 2;

const AXIS_SD = 0.02;
const CORRECTION_SD_V = 0.02;
const CORRECTION_BEND_V = 0.05;
const SMALL_SOC = 1e-6;
/** Tables are less sure where the curve is steep. */
const LOW_SOC = 0.1;
const LOW_FACTOR = 3;
/** Where a table does not reach, it says nothing. */
const BEYOND_SD_V = 1;
const OCV_MEAN_V = 3.5;
const OCV_SD_V = 3;
const OCV_BEND_V = 1;

const HYSTERESIS_SD_V = 0.015;
const HYSTERESIS_LOW_SD_V = 0.04;
/** Tables of hysteresis are taken slowly and after rests; under way it is somewhat wider. */
const TABLED_FACTOR = 1.3;
const TABLED_SD_V = 0.003;
const TABLED_SD_SHARE = 0.4;

export interface Beliefs {
  readonly shape: Shape;
  /** Of the steps in the recording; NaN when it has none. */
  readonly stepOhm: number;
  /** Null when no open-circuit volts were measured. */
  readonly table: OcvCurve | null;
  /** What has been taken over from shift and stretch so far. */
  readonly shift: number;
  readonly stretch: number;
}

export function believe(equations: NormalEquations, beliefs: Beliefs): void {
  const { shape, table, shift, stretch } = beliefs;
  const { layout } = shape;
  const axisSd = table === null ? LEAST_ZERO_SD : AXIS_SD;
  equations.believe([[layout.shift, 1]], -shift, axisSd);
  equations.believe([[layout.stretch, 1]], -stretch, axisSd);
  openCircuit(equations, shape, table);
  HYSTERESIS_KNOTS.forEach((soc, k) => {
    const tabled = TABLED_FACTOR * Math.max(0, table?.hysteresisV(soc) ?? Number.NaN);
    const known = Number.isFinite(tabled);
    const sd = known
      ? TABLED_SD_V + TABLED_SD_SHARE * tabled
      : soc < STEEP_FROM_SOC
        ? HYSTERESIS_LOW_SD_V
        : HYSTERESIS_SD_V;
    equations.believe([[layout.hysteresis + k, 1]], known ? tabled : 0, sd);
  });
  const ohm = beliefs.stepOhm > 0 ? beliefs.stepOhm : TYPICAL_OHM_AH / shape.capacityAh;
  const r0Sd = beliefs.stepOhm > 0 ? R0_SD : R0_UNSEEN_SD;
  resistance(equations, layout.r0, ohm, ohm * r0Sd, ohm * R0_BEND);
  resistance(equations, layout.r1, ohm * PAIR_MEAN, ohm * PAIR_SD, ohm * PAIR_BEND);
  resistance(equations, layout.r2, ohm * PAIR_MEAN, ohm * PAIR_SD, ohm * PAIR_BEND);
  equations.believe([[layout.lead, 1]], LEAD_S / shape.tau2S - shape.lead, LEAD_SD_S / shape.tau2S);
}

function openCircuit(equations: NormalEquations, shape: Shape, table: OcvCurve | null): void {
  const { ocvKnots, layout } = shape;
  const tabled = (soc: number): boolean =>
    table !== null && soc >= table.lowSoc - SMALL_SOC && soc <= table.highSoc + SMALL_SOC;
  ocvKnots.forEach((soc, k) => {
    const at = layout.ocv + k;
    if (table === null) equations.believe([[at, 1]], OCV_MEAN_V - shape.knownV(soc), OCV_SD_V);
    else if (tabled(soc)) equations.believe([[at, 1]], 0, CORRECTION_SD_V * (soc < LOW_SOC ? LOW_FACTOR : 1));
    else equations.believe([[at, 1]], 0, BEYOND_SD_V);
  });
  smooth(equations, ocvKnots, layout.ocv, (before, after) =>
    tabled(before) && tabled(after) ? CORRECTION_BEND_V : OCV_BEND_V,
  );
}

function resistance(
  equations: NormalEquations,
  from: number,
  ohm: number,
  sdOhm: number,
  bendOhm: number,
): void {
  RESISTANCE_KNOTS.forEach((soc, k) => {
    equations.believe([[from + k, 1]], ohm, sdOhm * (soc < EMPTY_SOC ? EMPTY_FACTOR : 1));
  });
  smooth(equations, RESISTANCE_KNOTS, from, () => bendOhm);
}

/** Each knot lies near the straight line of its neighbours, the nearer they are the closer. */
function smooth(
  equations: NormalEquations,
  knots: readonly number[],
  from: number,
  bend: (before: number, after: number) => number,
): void {
  for (let k = 1; k + 1 < knots.length; k++) {
    const [low, middle, high] = [knots[k - 1]!, knots[k]!, knots[k + 1]!];
    const both = high - low;
    const terms = [
      [from + k, 1],
      [from + k - 1, -(high - middle) / both],
      [from + k + 1, -(middle - low) / both],
    ] as const;
    equations.believe(terms, 0, bend(low, high) * both);
  }
}
