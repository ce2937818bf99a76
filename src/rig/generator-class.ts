/**
 * How far an engine set dips on its largest load step, by performance class: ISO 8528-5, published, textbook table. A
 * rig's lower limits of supply volts and frequency presume a class: a set of a lower one trips on every such step.
 */
import type { Rig } from './schema.js';

export const GENERATOR_CLASSES = ['G1', 'G2', 'G3'] as const;
export type GeneratorClass = (typeof GENERATOR_CLASSES)[number];

/** Transient dips as shares of the rated figure. */
const DIPS: Readonly<Record<GeneratorClass, { readonly voltage: number; readonly frequency: number }>> = {
  G1: { voltage: 0.25, frequency: 0.15 },
  G2: { voltage: 0.2, frequency: 0.1 },
  G3: { voltage: 0.15, frequency: 0.07 },
};

export interface DipFloor {
  readonly voltageV: number;
  readonly frequencyHz: number;
}

/** The lowest a set of this class may come to. */
export function dipFloor(of: GeneratorClass, nominalV: number, nominalHz: number): DipFloor {
  const { voltage, frequency } = DIPS[of];
  return { voltageV: nominalV * (1 - voltage), frequencyHz: nominalHz * (1 - frequency) };
}

export interface NeededClass {
  readonly floors: Readonly<Record<GeneratorClass, DipFloor>>;
  /** The least class that stays within the rig's limits; null when none does. */
  readonly needed: GeneratorClass | null;
}

/** Rounding of figures a person typed. */
const HAIR = 1e-9;

/** Null for a supply that is no engine set. */
export function neededClass(supply: Rig['supply']): NeededClass | null {
  const { kind, nominalVoltageV, minVoltageV, nominalFrequencyHz, minFrequencyHz } = supply;
  if (kind !== 'engine-set' || nominalFrequencyHz === undefined || minFrequencyHz === undefined) return null;
  const floorOf = (of: GeneratorClass): DipFloor => dipFloor(of, nominalVoltageV, nominalFrequencyHz);
  const floors = { G1: floorOf('G1'), G2: floorOf('G2'), G3: floorOf('G3') };
  const needed = GENERATOR_CLASSES.find(
    (of) =>
      floors[of].voltageV >= minVoltageV * (1 - HAIR) &&
      floors[of].frequencyHz >= minFrequencyHz * (1 - HAIR),
  );
  return { floors, needed: needed ?? null };
}
