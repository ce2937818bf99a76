/**
 * How far the reading of a sound simulated instrument may lie from the truth: what its noise may do (as stated here,
 * not taken from the simulator: one that gets noisier must be noticed) and half a count of the line protocol.
 */
import { ROLES, type Role } from '../rig/roles.js';

/**
 * A margin or an extreme is the outermost of up to some hundred thousand samples. Beyond six standard deviations
 * lies one in five hundred million.
 */
const SIGMAS = 6;

type Noise = (trueValue: number) => number;
const level =
  (deviation: number): Noise =>
  () =>
    SIGMAS * deviation;
const VOLTS = level(0.03);
const AMPS: Noise = (trueA) => SIGMAS * (0.03 + 2e-5 * Math.abs(trueA));
const CELSIUS = level(0.05);
const CELL = level(0.0003);
const NONE: Noise = () => 0;
/** Bounded: triangular noise of 8 µA and a pick-up of 15 µA; both shrink in a mean over the window. */
const PEAK: Noise = () => Math.sqrt(6) * 8e-6 + 15e-6;
const MEAN: Noise = () => 15e-6;

const NOISE: Readonly<Record<string, Noise>> = {
  'converter.outputV': VOLTS,
  'converter.outputA': AMPS,
  'converter.appliedSetpointA': NONE,
  'converter.appliedLimitV': NONE,
  'converter.temperatureC': CELSIUS,
  'meter.currentA': AMPS,
  'meter.currentMinA': AMPS,
  'meter.currentMaxA': AMPS,
  'meter.outputV': VOLTS,
  'meter.outputMinV': VOLTS,
  'meter.outputMaxV': VOLTS,
  'meter.plugV': VOLTS,
  'meter.plugMinV': VOLTS,
  'meter.plugMaxV': VOLTS,
  'meter.outputPositiveV': VOLTS,
  'meter.outputNegativeV': VOLTS,
  'meter.plugPositiveV': VOLTS,
  'meter.plugNegativeV': VOLTS,
  'meter.cableC': CELSIUS,
  'meter.contactC': CELSIUS,
  'loop.meanA': MEAN,
  'loop.rmsA': MEAN,
  'loop.peakPositiveA': PEAK,
  'loop.peakNegativeA': PEAK,
  'isolation.positiveV': level(0.02),
  'isolation.negativeV': level(0.02),
  'bleeder.temperatureC': NONE,
  'berth.bondOhm': (trueOhm) => SIGMAS * 0.02 * trueOhm,
  'train.trainV': VOLTS,
  'raft.packV': VOLTS,
  'raft.packA': AMPS,
  'raft.isolationOhm': NONE,
  'raft.cellMinV': CELL,
  'raft.cellMaxV': CELL,
  'raft.cellMinC': CELSIUS,
  'raft.cellMaxC': CELSIUS,
  /** A management unit counts charge; each is off by up to this. */
  'raft.soc': () => 0.002,
  'raft.allowedA': NONE,
  'supply.frequencyHz': level(0.005),
  'supply.voltageV': level(0.1),
  'supply.powerW': NONE,
};

const SCALE = new Map<string, number>(
  Object.entries(ROLES).flatMap(([role, { fields }]) =>
    fields.map(({ name, scale }) => [`${role}.${name}`, scale] as const),
  ),
);

/** `raft3` reads like any raft. */
export const roleOf = (part: string): Role => part.replace(/^raft\d$/, 'raft') as Role;

/** NaN for a field no truth is known of. @param field as `raft2.cellMaxV` */
export function mayDiffer(part: string, field: string, trueValue: number): number {
  const name = `${roleOf(part)}.${field}`;
  const noise = NOISE[name]?.(trueValue) ?? Number.NaN;
  // The last digits of a number multiplied by its scale are not the reading's.
  return noise + (SCALE.get(name) ?? Number.NaN) / 2 + 1e-9 * Math.abs(trueValue);
}
