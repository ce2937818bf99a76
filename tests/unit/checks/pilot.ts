/** The pilot of the tests of recorded currents: a core of 20 Ω, else as the depot has it. */
import { LIMITS } from '../../reference/loop-cases.js';

export const pilot = { ...LIMITS, frequencyHz: 80 };
export const PEAK_V = 12 * Math.SQRT2;
