/** Observations no scene gives by itself: a role that was never seen, a time of one's own, a report without its rest. */
import type { CheckResult, Observation } from '../../../src/checks/check.js';
import type { Run } from './build.js';

/** One more observation for this run, changed after the scene laid it out; a report, or the one that is given. */
export function feed<S>(
  run: Run<S>,
  change: Partial<Observation>,
  seen: Observation = run.scene.report(),
): CheckResult<S> {
  run.last = run.check.run(run.state, { ...seen, ...change }, run.scene.rig);
  run.state = run.last.state;
  return run.last;
}

/** The same change in this many reports. */
export function feedMany<S>(run: Run<S>, count: number, change: Partial<Observation>): CheckResult<S> {
  for (let k = 0; k < count; k++) feed(run, change);
  return run.last;
}
