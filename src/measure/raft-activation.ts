/**
 * How the resistances of a cell fall as it warms: by an activation energy each, by the law of Arrhenius. Recordings at
 * one temperature say nothing of these energies, so what is believed beforehand stands; recordings at several
 * temperatures, fitted together, find them.
 */
const GAS_CONSTANT = 8.314462618;
const ZERO_K = 273.15;
export const REFERENCE_C = 25;

/** Activation energies, J/mol, of what is activated in R0 and the two R-C pairs; R2's is the diffusion's too. */
export interface Activation {
  readonly r0: number;
  readonly r1: number;
  readonly r2: number;
}

/**
 * Share of R0 and R1 at the reference temperature that does not depend on it, as metal and contacts do not. From one
 * published set for a cylindrical NMC cell (tests/data/cylindrical-nmc-5Ah, SOURCE.md: upstream's own fits to pulses):
 * its R0 and the pair beside it rise from 45 to 25 °C as by 6 kJ/mol, from 25 to 10 °C as by 9 and 11. With a
 * constant share of 0.7, the rest at 30 kJ/mol gives 7 and 11.
 */
const CONSTANT_SHARE = 0.7;

/**
 * Believed beforehand, with standard deviations. R0 and R1: see above. R2 is part resistance, part diffusion; the
 * same set has 9 kJ/mol for its pair and 28.7 for diffusion, and this is between them. Pulses of a pouch cell of
 * another chemistry (tests/data/traction-cell-33Ah, SOURCE.md) rise far more from 25 to 10 °C, as by 24 kJ/mol for all
 * of R0, and hardly at all from 40 to 25. So the deviations are wide.
 */
export const BELIEVED: Activation = { r0: 30_000, r1: 30_000, r2: 20_000 };
export const BELIEVED_SD: Activation = { r0: 15_000, r1: 15_000, r2: 10_000 };
export const RESISTANCES = ['r0', 'r1', 'r2'] as const;

/** Slow processes as a multiple of what they are at the reference temperature. */
const arrhenius = (joulePerMol: number, cellC: number): number =>
  Math.exp((joulePerMol / GAS_CONSTANT) * (1 / (cellC + ZERO_K) - 1 / (REFERENCE_C + ZERO_K)));

/** A resistance as a multiple of the one at the reference temperature. */
export function factorAt(
  activation: Activation,
  resistance: (typeof RESISTANCES)[number],
  cellC: number,
): number {
  const slow = arrhenius(activation[resistance], cellC);
  return resistance === 'r2' ? slow : CONSTANT_SHARE + (1 - CONSTANT_SHARE) * slow;
}
