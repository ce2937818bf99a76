/** The faults of a run as they are made, simulated or real: their sizes by the rig, their instants by the seed. */
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { LoadedRig } from '../rig/load.js';
import { ofRig } from './limits.js';
import type { Step } from './procedure.js';

/** Instants of a fault are spread over two reports, so that what is seen once a report has its whole spread. */
const JITTER_S = 0.1;

/** Of one run. */
export const instantsOf = (seed: number): SeededRandom => new SeededRandom(seed).fork('instant');
export const jitterS = (instants: SeededRandom): number => instants.between(0, JITTER_S);

export type MadeFault = Omit<Step['inject'][number], 'magnitude'> & {
  readonly magnitude: number | undefined;
};

/** @param lateS later than the step says, but for what is there from the start */
export function faultsOf(step: Step, loaded: LoadedRig, lateS: number): MadeFault[] {
  return step.inject.map(({ magnitude, ...i }) => ({
    ...i,
    magnitude: typeof magnitude === 'object' ? ofRig(magnitude, loaded) : magnitude,
    ...(i.phase === 'start' ? {} : { afterS: (i.afterS ?? 0) + lateS }),
  }));
}
