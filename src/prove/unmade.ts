/** A run that could not be made: nobody can make its fault here, or the session did not begin. Nothing is proven. */
import type { StepRun } from './run-step.js';

export const unmade = (why: string): StepRun => ({
  measures: [],
  first: { by: 'nobody', what: '', n: -1 },
  verdict: 'inconclusive',
  deviations: [why],
  outcome: 'not-run',
  exit: -1,
  code: '',
  trace: { zero: 'end of the record', every: 1, tMs: [], currentA: [], outputV: [], plugV: [], events: [] },
  devices: [],
});
