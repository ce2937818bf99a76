/** A run that could not be made: nobody can make its fault here, or the session did not begin. Nothing is proven. */
import type { LoadedRig } from '../rig/load.js';
import { unproven } from './evaluate.js';
import type { Step } from './procedure.js';
import type { StepRun } from './run-step.js';

export const unmade = (step: Step, loaded: LoadedRig, why: string): StepRun => ({
  ...unproven(step, loaded, why),
  outcome: 'not-run',
  exit: -1,
  code: '',
  trace: { zero: 'end of the record', every: 1, tMs: [], currentA: [], outputV: [], plugV: [], events: [] },
  devices: [],
});
