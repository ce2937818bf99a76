/**
 * A proof on a real charger: sessions over its ports, faults made by a fault box or by a person who is asked, told the
 * caution, and confirms. After a trip everything is taken back and acknowledged in the tester's name before the next run.
 */
import path from 'node:path';
import { createInterface } from 'node:readline/promises';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { NO_WISH, wishOf } from '../checks/check.js';
import { realClock } from '../host/clock.js';
import { realFiles } from '../host/files.js';
import { SerialLink } from '../link/serial.js';
import { refuseUndated } from '../prove/calibration.js';
import type { DoRuns } from '../prove/campaign.js';
import { FAULT_BOX, FAULT_BOX_BAUD, FaultBox } from '../prove/fault-box.js';
import { ofRig } from '../prove/limits.js';
import type { PlannedRun } from '../prove/plan.js';
import type { Step } from '../prove/procedure.js';
import { recordOf } from '../prove/record.js';
import { JITTER_S, resultOf, type StepRun } from '../prove/run-step.js';
import { unmade } from '../prove/unmade.js';
import type { LoadedRig } from '../rig/load.js';
import { exitCodeOf } from '../supervisor/outcome.js';
import type { Runner } from '../supervisor/runner.js';
import { complain, paint, say } from './print.js';
import { runReal } from './real-session.js';

export interface RealProof {
  readonly loaded: LoadedRig;
  readonly ports: readonly string[];
  readonly faultBox: string | undefined;
  readonly by: string;
  readonly state: string | undefined;
  readonly folder: string;
  readonly quiet: boolean;
}

type Fault = Step['inject'][number];
/** The device has made itself safe and its bleeders are off before the next session begins. */
const SETTLES_MS = 4000;
const TRIES = 3;

export function realRuns(proof: RealProof): DoRuns {
  return async (left, onDone) => {
    const box = proof.faultBox === undefined ? null : boxAt(proof.faultBox);
    const name = await box?.open();
    if (name !== undefined && !proof.quiet) say(`fault box: ${name}`);
    const done = [];
    try {
      for (const run of left) {
        const { result, journal, file } = await oneRun(run, proof, box);
        refuseUndated(result.devices);
        const record = recordOf(run, file, journal, result);
        done.push(record);
        onDone(done.length, record);
      }
    } finally {
      await box?.clear();
      await box?.close();
    }
    return done;
  };
}

const boxAt = (at: string): FaultBox =>
  new FaultBox(
    new SerialLink({ clock: realClock, port: FAULT_BOX, path: at, baud: FAULT_BOX_BAUD }),
    realClock,
  );

interface Run {
  readonly result: StepRun;
  readonly journal: string;
  /** Below the folder of the proof; '' where no session was run. */
  readonly file: string;
}

/** Who makes a fault here; null: nobody. */
const makerOf = (fault: Fault, box: FaultBox | null): 'box' | 'hand' | null =>
  box !== null ? 'box' : fault.hand !== undefined && process.stdin.isTTY ? 'hand' : null;

async function oneRun(run: PlannedRun, proof: RealProof, box: FaultBox | null): Promise<Run> {
  const { step } = run;
  if (step.powerLoss !== undefined)
    return {
      result: unmade(
        'the power of this machine cannot be taken from within: cut it by hand in a session of `run`, then audit its journal',
      ),
      journal: '',
      file: '',
    };
  const nobody = step.inject.find((fault) => makerOf(fault, box) === null);
  if (nobody !== undefined)
    return {
      result: unmade(`nobody can make ${nobody.fault} here: there is no fault box`),
      journal: '',
      file: '',
    };
  if (!proof.quiet) say(paint('bold', `${run.procedure}/${step.step}, run ${run.repeat}: ${step.title}`));
  const jitterS = new SeededRandom(run.seed).fork('instant').between(0, JITTER_S);
  let failed: string | null = null;
  const make = async (fault: Fault): Promise<void> => {
    const { magnitude } = fault;
    const size = typeof magnitude === 'object' ? ofRig(magnitude, proof.loaded) : magnitude;
    failed ??= box === null ? await byHand(fault) : await box.make({ ...fault, magnitude: size });
  };
  for (const fault of step.inject.filter((f) => f.phase === 'start')) await make(fault);
  if (failed !== null) return { result: unmade(failed), journal: '', file: '' };
  const { outcome } = await session(step, proof, (phase) => {
    for (const fault of step.inject)
      if (fault.phase === phase)
        realClock.after(1000 * ((fault.afterS ?? 0) + jitterS), () => void make(fault));
  });
  const journal = realFiles.readText(outcome.journal);
  const told = resultOf(step, journal, outcome, exitCodeOf(outcome), proof.loaded);
  await takeBack(step, proof, box, outcome.outcome === 'tripped');
  const result = failed === null ? told : { ...told, ...unmade(failed), devices: told.devices };
  return { result, journal, file: path.relative(proof.folder, outcome.journal) };
}

async function session(
  step: Step,
  { loaded, ports, by, state, folder }: RealProof,
  onPhase: (phase: string) => void,
) {
  const order = (what: Step['orders'][number]['order'], afterS: number, runner: Runner): void => {
    realClock.after(1000 * afterS, () => runner.person({ order: what, by }));
  };
  return runReal({
    ...{ loaded, ports, state, by, order: 'start' },
    out: path.join(folder, 'journals'),
    wish: wishOf(step.wish),
    observing: step.observe,
    onProgress: (what, runner) => {
      if (what.kind !== 'phase') return;
      onPhase(what.phase);
      for (const o of step.orders) if (o.phase === what.phase) order(o.order, o.afterS, runner);
    },
  });
}

/** Asks a person, with the caution; @returns null when it was confirmed, else why not */
async function byHand({ fault, hand }: Fault): Promise<string | null> {
  if (hand === undefined) return `${fault} cannot be made by hand`;
  const terminal = createInterface({ input: process.stdin, output: process.stdout });
  try {
    say();
    say(paint('red', `CAUTION: ${hand.caution}`));
    for (let k = 0; k < TRIES; k++) {
      const typed = await terminal.question(
        `When all stand clear, type '${hand.confirm}', then ${hand.ask}: `,
      );
      if (typed.trim() === hand.confirm) return null;
    }
  } finally {
    terminal.close();
  }
  return `${fault} was not confirmed`;
}

/** Faults off, relays reset, the trip acknowledged: the next run begins as the first did. */
async function takeBack(step: Step, proof: RealProof, box: FaultBox | null, tripped: boolean): Promise<void> {
  if (box !== null && !(await box.clear())) complain('the fault box does not say that it is clear');
  if (box === null && step.inject.length > 0) await undoneByHand();
  if (!tripped) return;
  await new Promise<void>((resolve) => void realClock.after(SETTLES_MS, resolve));
  const { loaded, ports, by, state, folder } = proof;
  await runReal({
    ...{ loaded, ports, state, by, order: 'acknowledge', wish: NO_WISH, onProgress: () => {} },
    out: path.join(folder, 'journals', 'acknowledged'),
  });
}

async function undoneByHand(): Promise<void> {
  const terminal = createInterface({ input: process.stdin, output: process.stdout });
  await terminal.question('Undo what was done by hand, reset the relay, and press Enter: ');
  terminal.close();
}
