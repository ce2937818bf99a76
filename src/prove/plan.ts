/** Which runs a proof consists of, and in which order: the same whoever does them, at once or in shards. */
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { LoadedRig } from '../rig/load.js';
import { applies, type LoadedProcedure } from './load.js';
import type { Step } from './procedure.js';

export interface PlannedRun {
  /** From 0, over the whole proof. */
  readonly index: number;
  readonly procedure: string;
  readonly step: Step;
  /** From 1. */
  readonly repeat: number;
  readonly seed: number;
}

/** @param repeat of every step; each step's own number where null */
export function plan(
  procedures: readonly LoadedProcedure[],
  loaded: LoadedRig,
  seed: number,
  repeat: number | null,
): PlannedRun[] {
  const runs: PlannedRun[] = [];
  for (const { procedure } of procedures) {
    for (const step of procedure.steps) {
      if (!applies(step, loaded)) continue;
      for (let k = 1; k <= (repeat ?? step.repeat); k++) {
        const random = new SeededRandom(seed).fork(`${procedure.name} ${step.step} ${k}`);
        runs.push({ index: runs.length, procedure: procedure.name, step, repeat: k, seed: random.uint32() });
      }
    }
  }
  return runs;
}
