/** One run of one step against the simulated charger: a whole session, its journal, and what comes of it. */

import { SeededRandom } from '../../simulators/seeded-random.js';
import { filesInMemory } from '../host/durable-file.js';
import { runVirtual } from '../rehearsal/virtual-run.js';
import type { LoadedRig } from '../rig/load.js';
import { type Charger, provingOf } from './charger.js';
import { type Evaluation, evaluate } from './evaluate.js';
import { ofRig } from './limits.js';
import type { Step } from './procedure.js';
import { type Timeline, timelineOf } from './timeline.js';
import { type Trace, traceOf } from './trace.js';

/** Instants of the fault are spread over two reports, so that what is seen once a report has its whole spread. */
const JITTER_S = 0.1;

export interface StepRun extends Evaluation {
  readonly outcome: string;
  readonly exit: number;
  readonly code: string;
  readonly trace: Trace;
  readonly devices: Timeline['welcomes'];
}

export interface StepRunWithJournal extends StepRun {
  readonly journal: string;
}

export async function runStep(
  step: Step,
  loaded: LoadedRig,
  charger: Charger,
  seed: number,
): Promise<StepRunWithJournal> {
  const random = new SeededRandom(seed).fork('instant');
  const jitterS = random.between(0, JITTER_S);
  let journal = '';
  const run = await runVirtual({
    loaded,
    scenario: {
      seed,
      start: step.start,
      wish: step.wish,
      inject: [
        ...(charger.inject ?? []),
        ...step.inject.map(({ hand: _, magnitude, ...i }) => ({
          ...i,
          magnitude: typeof magnitude === 'object' ? ofRig(magnitude, loaded) : magnitude,
          ...(i.phase === 'start' ? {} : { afterS: (i.afterS ?? 0) + jitterS }),
        })),
      ],
      orders: step.orders,
    },
    stateDir: 'prove',
    latchFiles: filesInMemory(),
    journalPath: 'journal',
    sink: {
      append: (text) => {
        journal += text;
      },
      close: async () => {},
    },
    by: 'prove',
    proving: provingOf(charger, loaded.rig),
    ...(step.observe ? { observing: step.observe } : {}),
  });
  if (run.fault !== null) throw run.fault;
  const line = timelineOf(journal, loaded.rig);
  const { outcome, exit } = run;
  const code = outcome.trip?.code ?? outcome.endReason;
  const evaluation = evaluate(step, line, outcome, exit, loaded);
  return {
    ...evaluation,
    ...{ outcome: outcome.outcome, exit, code, journal, devices: line.welcomes },
    trace: traceOf(line, step),
  };
}
