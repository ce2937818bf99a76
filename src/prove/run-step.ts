/** One run of one step against the simulated charger: a whole session, its journal, and what comes of it. */

import type { SeededRandom } from '../../simulators/seeded-random.js';
import { filesInMemory } from '../host/durable-file.js';
import { runVirtual } from '../rehearsal/virtual-run.js';
import type { LoadedRig } from '../rig/load.js';
import type { Outcome } from '../supervisor/outcome.js';
import { type Charger, provingOf } from './charger.js';
import { type Evaluation, evaluate } from './evaluate.js';
import { faultsOf, instantsOf, jitterS } from './making.js';
import type { Facts } from './measure.js';
import { losePower } from './power-loss.js';
import type { Step } from './procedure.js';
import { type Timeline, timelineOf } from './timeline.js';
import { type Trace, traceOf } from './trace.js';

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
  const random = instantsOf(seed);
  const options = {
    loaded,
    scenario: {
      seed,
      start: step.start,
      wish: step.wish,
      inject: [
        ...(charger.inject ?? []),
        ...faultsOf(step, loaded, jitterS(random)).map(({ hand: _, ...fault }) => fault),
      ],
      orders: step.orders,
    },
    stateDir: 'prove',
    journalPath: 'journal',
    by: 'prove',
    proving: provingOf(charger, loaded.rig),
    ...(step.observe ? { observing: step.observe } : {}),
  };
  const { powerLoss } = step;
  if (powerLoss !== undefined)
    return withoutPower({ ...step, powerLoss }, options, random, loaded, charger.diskLies === true);
  let journal = '';
  const run = await runVirtual({
    ...options,
    latchFiles: filesInMemory(),
    sink: {
      append: (text) => {
        journal += text;
      },
      close: async () => {},
    },
  });
  if (run.fault !== null) throw run.fault;
  return { ...resultOf(step, journal, run.outcome, run.exit, loaded), journal };
}

/** The journal kept is what the lost session left; how it ends is how the next start ends. */
async function withoutPower(
  step: Parameters<typeof losePower>[0],
  options: Parameters<typeof losePower>[1],
  random: SeededRandom,
  loaded: LoadedRig,
  diskLies: boolean,
): Promise<StepRunWithJournal> {
  const { left, next, facts, deviations } = await losePower(step, options, random, diskLies);
  const told = resultOf(step, next.journal, next.outcome, next.exit, loaded, facts);
  return {
    ...told,
    verdict: deviations.length > 0 ? 'fail' : told.verdict,
    deviations: [...deviations, ...told.deviations],
    journal: left,
  };
}

/** What a session comes to by its journal, simulated or real. */
export function resultOf(
  step: Step,
  journal: string,
  outcome: Outcome,
  exit: number,
  loaded: LoadedRig,
  facts?: Facts,
): StepRun {
  const line = timelineOf(journal, loaded.rig);
  const code = outcome.trip?.code ?? outcome.endReason;
  return {
    ...evaluate(step, line, outcome, exit, loaded, facts),
    ...{ outcome: outcome.outcome, exit, code, devices: line.welcomes },
    trace: traceOf(line, step),
  };
}
