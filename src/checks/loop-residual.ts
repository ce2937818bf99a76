/** What a fit leaves over, looked at twice: in step with the pilot (a wrong model), and all at once (a contact). */
import type { LoopFit } from './loop-fit.js';

const BINS = 24;
/** Deviations of a sum of squares above its mean before it is called systematic: not one sound recording in 10⁵. */
const SURPRISE = 5;
/** A residual is a jump beyond this many deviations and this share of the peak. */
const JUMP_DEVIATIONS = 6;
const JUMP_SHARE = 0.1;
/** So many jumps are no stray sample. */
const JUMPS = 3;

/**
 * Residual averaged by phase of the pilot.
 * @returns by how much the variance of the parameters must be raised, and the r.m.s. of what is not noise, A
 */
export function systematic(
  timeS: Float64Array,
  { residualA, noiseA }: Pick<LoopFit, 'residualA' | 'noiseA'>,
  hertz: number,
): { variance: number; misfitA: number } {
  const sums = new Float64Array(BINS);
  const counts = new Float64Array(BINS);
  for (let n = 0; n < residualA.length; n++) {
    const periods = timeS[n]! * hertz;
    const bin = Math.floor((periods - Math.floor(periods)) * BINS);
    sums[bin] = sums[bin]! + residualA[n]!;
    counts[bin] = counts[bin]! + 1;
  }
  let squares = 0;
  let filled = 0;
  for (let k = 0; k < BINS; k++) {
    if (!(counts[k]! > 0)) continue;
    filled += 1;
    squares += (sums[k]! * sums[k]!) / counts[k]!;
  }
  const measured = squares / (noiseA * noiseA);
  const surprising = measured > filled + SURPRISE * Math.sqrt(2 * filled);
  const excess = Math.max(0, squares - filled * noiseA * noiseA) / residualA.length;
  return { variance: surprising ? measured / filled : 1, misfitA: surprising ? Math.sqrt(excess) : 0 };
}

/** Time of the first of several jumps, or null. */
export function interrupted(timeS: Float64Array, residualA: Float64Array, peakA: number): number | null {
  // The median is not moved by what it is to find.
  const sizes = residualA.map(Math.abs).sort();
  const deviation = 1.4826 * (sizes[Math.floor(sizes.length / 2)] ?? 0);
  const limitA = Math.max(JUMP_DEVIATIONS * deviation, JUMP_SHARE * peakA);
  let jumps = 0;
  let firstS = 0;
  for (let n = 0; n < residualA.length; n++) {
    if (!(Math.abs(residualA[n]!) > limitA)) continue;
    if (jumps === 0) firstS = timeS[n]!;
    jumps += 1;
  }
  return jumps >= JUMPS ? firstS : null;
}
