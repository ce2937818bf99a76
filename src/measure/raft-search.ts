/** The search for time constants: from a grid, then closer about the best; and how sure they are. */
import { BELIEVED } from './raft-activation.js';
import type { Equations, Try } from './raft-equations.js';

const GRID_1_S = [5, 10, 20, 40, 80] as const;
const GRID_2_S = [200, 400, 800, 1600, 3200] as const;
export const RANGE_1_S = [1, 150] as const;
export const RANGE_2_S = [150, 6000] as const;
const FINEST_STEP = 1.1;
/** A better misfit by less is none. */
const GAIN = 0.01;

export function fromGrid(equations: Equations): Try {
  let best: Try | null = null;
  for (const tau2S of GRID_2_S) {
    for (const tau1S of GRID_1_S) {
      const found = equations.run({ tau1S, tau2S, activation: BELIEVED }, best, 2);
      if (best === null || found.misfit < best.misfit) best = found;
    }
  }
  return best!;
}

export function closer(equations: Equations, from: Try): Try {
  let best = from;
  for (let step = Math.SQRT2; step > FINEST_STEP; step = Math.sqrt(step)) {
    for (let moved = true; moved; ) {
      moved = false;
      for (const [by1, by2] of [
        [step, 1],
        [1 / step, 1],
        [1, step],
        [1, 1 / step],
      ] as const) {
        const { activation } = best;
        const tau1S = best.tau1S * by1;
        const tau2S = best.tau2S * by2;
        if (!(tau1S >= RANGE_1_S[0] && tau1S <= RANGE_1_S[1])) continue;
        if (!(tau2S >= RANGE_2_S[0] && tau2S <= RANGE_2_S[1])) continue;
        const found = equations.run({ tau1S, tau2S, activation }, best, 2);
        if (found.misfit < best.misfit - GAIN) {
          best = found;
          moved = true;
        }
      }
    }
  }
  return best;
}

/** Standard deviation of the logarithm of a time constant, by the curvature of the misfit. */
export function tauSdLog(equations: Equations, best: Try, which: 1 | 2): number {
  const step = 1.2;
  const at = (factor: number): number => {
    const { tau1S, tau2S, activation } = best;
    const point = which === 1 ? { tau1S: tau1S * factor, tau2S } : { tau1S, tau2S: tau2S * factor };
    return equations.run({ ...point, activation }, best, 2).misfit;
  };
  const bend = (at(step) + at(1 / step) - 2 * best.misfit) / Math.log(step) ** 2;
  return bend > 0 ? Math.sqrt(2 / bend) : Number.POSITIVE_INFINITY;
}
