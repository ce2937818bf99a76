/**
 * What a fitted cell comes to in the words of an equivalent circuit: open-circuit volts, R0 and two R-C pairs over
 * the state of charge, with 95 % uncertainties. The surface's lead by diffusion (raft-model.ts) answers like a pair
 * with the slow time constant whose resistance follows the slope of the open-circuit volts: it is part of R2 here.
 */
import { BELIEVED_SD, factorAt, REFERENCE_C, RESISTANCES } from './raft-activation.js';
import type { RaftFit } from './raft-fit.js';
import { along, HYSTERESIS_KNOTS, place, RESISTANCE_KNOTS, Walker } from './raft-model.js';
import { CHARGE_FROM_SOC } from './raft-residuals.js';

export interface Uncertain {
  readonly value: number;
  /** Half the width of the 95 % interval. */
  readonly uncertainty: number;
}

export interface RaftPoint {
  readonly soc: number;
  readonly ocvV: number;
  /** Half the gap between the charged and the discharged curve. */
  readonly hysteresisV: Uncertain;
  /** At 25 °C. */
  readonly r0Ohm: Uncertain;
  readonly r1Ohm: Uncertain;
  readonly r2Ohm: Uncertain;
}

/** Standard deviations of a normal distribution within which 95 % lie. */
const Z95 = 1.96;
type Terms = readonly (readonly [index: number, factor: number])[];

export function timeConstants(fit: RaftFit): { readonly tau1S: Uncertain; readonly tau2S: Uncertain } {
  const { tau1S, tau2S } = fit.shape;
  const about = (value: number, sdLog: number): Uncertain => ({
    value,
    uncertainty: value * Math.expm1(Z95 * fit.widening.above * sdLog),
  });
  return { tau1S: about(tau1S, fit.pointSd.tau1Log), tau2S: about(tau2S, fit.pointSd.tau2Log) };
}

/** Activation energies, J/mol: as found from several temperatures, else as believed. */
export function activationEnergies(fit: RaftFit): Readonly<Record<(typeof RESISTANCES)[number], Uncertain>> {
  const { shape, pointSd, widening, activationFitted } = fit;
  const of = (r: (typeof RESISTANCES)[number]): Uncertain => {
    // Recordings leave nothing less certain than it was before them.
    const sd = Math.min(BELIEVED_SD[r], pointSd.activation[r] * (activationFitted ? widening.above : 1));
    return { value: shape.activation[r], uncertainty: Z95 * sd };
  };
  return { r0: of('r0'), r1: of('r1'), r2: of('r2') };
}

/** All resistances together at half charge, as a multiple of what they are at the reference temperature. */
export function temperatureFactor(fit: RaftFit, cellC: number): number {
  const at = raftPoint(fit, 0.5);
  const ohms = { r0: at.r0Ohm.value, r1: at.r1Ohm.value, r2: at.r2Ohm.value };
  let [sum, all] = [0, 0];
  for (const r of RESISTANCES) {
    sum += ohms[r] * factorAt(fit.shape.activation, r, cellC);
    all += ohms[r];
  }
  return sum / all;
}

export function raftPoint(fit: RaftFit, soc: number): RaftPoint {
  const { shape } = fit;
  const { layout } = shape;
  const onKnots = (knots: readonly number[], from: number): Terms => {
    const { i, share } = place(knots, soc);
    return [
      [from + i, 1 - share],
      [from + i + 1, share],
    ];
  };
  // τ2 / (3600 Q): charge by which the surface leads per ampere and unit of lead.
  const perLead = (shape.slopeV(soc) * shape.tau2S) / (3600 * shape.capacityAh);
  const slow = combined(fit, soc, [...onKnots(RESISTANCE_KNOTS, layout.r2), [layout.lead, perLead]]);
  return {
    soc,
    ocvV: openCircuitV(fit, soc),
    hysteresisV: combined(fit, soc, onKnots(HYSTERESIS_KNOTS, layout.hysteresis)),
    r0Ohm: combined(fit, soc, onKnots(RESISTANCE_KNOTS, layout.r0)),
    r1Ohm: combined(fit, soc, onKnots(RESISTANCE_KNOTS, layout.r1)),
    r2Ohm: { value: slow.value + shape.lead * perLead, uncertainty: slow.uncertainty },
  };
}

/** Mean of the charged and the discharged curve, at rest. */
export function openCircuitV(fit: RaftFit, soc: number): number {
  const { layout } = fit.shape;
  const walker = new Walker(fit.shape, soc);
  const row = new Float64Array(layout.size);
  walker.row(row, 0, REFERENCE_C);
  row.fill(0, layout.hysteresis, layout.r0);
  return row.reduce((sum, a, i) => sum + a * fit.solution.p[i]!, walker.knownV());
}

export function hysteresisV(fit: RaftFit, soc: number): number {
  return along(HYSTERESIS_KNOTS, fit.solution.p, soc, fit.shape.layout.hysteresis);
}

function combined(fit: RaftFit, soc: number, terms: Terms): Uncertain {
  const { p, covariance } = fit.solution;
  const size = fit.shape.layout.size;
  let variance = 0;
  for (const [i, a] of terms) for (const [j, b] of terms) variance += a * b * covariance[i * size + j]!;
  const widening = soc < CHARGE_FROM_SOC ? fit.widening.below : fit.widening.above;
  const value = terms.reduce((sum, [i, a]) => sum + a * p[i]!, 0);
  return { value, uncertainty: Z95 * widening * Math.sqrt(Math.max(0, variance)) };
}
