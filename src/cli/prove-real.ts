/**
 * A proof on a real charger: sessions over its ports, faults made by a fault box or by a person who is asked, told the
 * caution, and confirms. After a trip everything is taken back and acknowledged in the tester's name before the next run.
 */
import path from 'node:path';
import { createInterface } from 'node:readline/promises';
import { NO_WISH, wishOf } from '../checks/check.js';
import { dayText } from '../host/calendar.js';
import { realClock } from '../host/clock.js';
import { quiet as untold } from '../host/diagnostics.js';
import { readIfThere } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { osRandom } from '../host/random.js';
import { SerialLink } from '../link/serial.js';
import { refuseUndated } from '../prove/calibration.js';
import type { DoRuns } from '../prove/campaign.js';
import { unproven } from '../prove/evaluate.js';
import { FAULT_BOX, FAULT_BOX_BAUD, FaultBox } from '../prove/fault-box.js';
import { identify } from '../prove/identify.js';
import { faultsOf, instantsOf, jitterS, type MadeFault } from '../prove/making.js';
import type { PlannedRun } from '../prove/plan.js';
import type { Step } from '../prove/procedure.js';
import { recordOf } from '../prove/record.js';
import { resultOf, type StepRun } from '../prove/run-step.js';
import { unmade } from '../prove/unmade.js';
import type { LoadedRig } from '../rig/load.js';
import { exitCodeOf } from '../supervisor/outcome.js';
import type { Runner } from '../supervisor/runner.js';
import { supervisorLinks } from './ports.js';
import { complain, paint, say } from './print.js';
import { runReal } from './real-session.js';
import { listenToSignals, type Signals } from './signals.js';

export interface RealProof {
  readonly loaded: LoadedRig;
  readonly ports: readonly string[];
  readonly faultBox: string | undefined;
  readonly by: string;
  readonly state: string | undefined;
  readonly folder: string;
  readonly quiet: boolean;
}

/** The device has made itself safe and its bleeders are off before the next session begins. */
const SETTLES_MS = 4000;
const TRIES = 3;

export function realRuns(proof: RealProof): DoRuns {
  return async (left, onDone) => {
    const box = proof.faultBox === undefined ? null : boxAt(proof.faultBox);
    if (left.some((run) => whyNot(run, proof, box) === null)) await meet(proof);
    const name = await box?.open();
    if (name !== undefined && !proof.quiet) say(`fault box: ${name}`);
    const signals = listenToSignals(proof.by, () =>
      complain('No session is under way; the proof ends before the next one.'),
    );
    const done = [];
    try {
      for (const run of left) {
        const { result, journal, file, made, tripped } = await oneRun(run, proof, box, signals);
        const record = recordOf(run, file, journal, result);
        done.push(record);
        onDone(done.length, record);
        if (made) await takeBack(box);
        const why = tripped ? await acknowledged(proof, signals) : null;
        const isLast = done.length === left.length;
        if (why !== null)
          endBy(`the trip of ${run.procedure}/${run.step.step} was not acknowledged: ${why}`, isLast, proof);
        else if (signals.heard) endBy('the proof was stopped by hand', isLast, proof);
      }
    } finally {
      await box?.clear();
      await box?.close();
    }
    return done;
  };
}

/** Tells who is at the ports. @throws InputError before any run where nobody is, or somebody of unknown calibration */
async function meet({ ports, loaded, quiet }: RealProof): Promise<void> {
  const links = supervisorLinks(ports, loaded, untold);
  const devices = await identify(links, loaded.rig, realClock, osRandom);
  refuseUndated(devices);
  if (quiet) return;
  for (const { model, serial, firmware, calibratedOn } of devices)
    say(`charger: ${model}, serial ${serial}, firmware ${firmware}, calibrated ${dayText(calibratedOn)}`);
}

/** What was done is kept. @throws InputError unless nothing is left to be done */
function endBy(why: string, isLast: boolean, { folder, loaded }: RealProof): void {
  const told = `${why}; \`loopwarden acknowledge --rig ${loaded.rig.name} --port … --by …\` clears a latch that stands, with --measured-dead where the instruments are in doubt`;
  if (isLast) complain(told);
  else throw new InputError(`${told}; then take the proof up again with --out ${folder}`);
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
  /** A fault was made, or may have been: it is to be taken back. */
  readonly made: boolean;
  readonly tripped: boolean;
}
const NO_SESSION = { journal: '', file: '', tripped: false };

/** Somebody can make this fault here: the box, or a person at a terminal. */
const canMake = ({ hand }: MadeFault, box: FaultBox | null): boolean =>
  box !== null || (hand !== undefined && process.stdin.isTTY);

const faultsFor = ({ step, seed }: PlannedRun, { loaded }: RealProof): MadeFault[] =>
  faultsOf(step, loaded, jitterS(instantsOf(seed)));

/** Why this run cannot be made here; null where it can. */
function whyNot(run: PlannedRun, proof: RealProof, box: FaultBox | null): string | null {
  if (run.step.powerLoss !== undefined)
    return 'the power of this machine cannot be taken from within: cut it by hand in a session of `run`, then audit its journal';
  const nobody = faultsFor(run, proof).find((fault) => !canMake(fault, box));
  return nobody === undefined ? null : `nobody can make ${nobody.fault} here: there is no fault box`;
}

async function oneRun(
  run: PlannedRun,
  proof: RealProof,
  box: FaultBox | null,
  signals: Signals,
): Promise<Run> {
  const { step } = run;
  const { loaded } = proof;
  const not = (why: string, made = false): Run => ({
    ...NO_SESSION,
    result: unmade(step, loaded, why),
    made,
  });
  const why = whyNot(run, proof, box);
  if (why !== null) return not(why);
  const faults = faultsFor(run, proof);
  if (!proof.quiet) say(paint('bold', `${run.procedure}/${step.step}, run ${run.repeat}: ${step.title}`));
  let failed: string | null = null;
  const make = async (fault: MadeFault): Promise<void> => {
    failed ??= box === null ? await byHand(fault) : await box.make(fault);
  };
  for (const fault of faults) if (fault.phase === 'start') await make(fault);
  if (failed !== null) return not(failed, true);
  const { outcome } = await session(step, proof, signals, (phase) => {
    for (const fault of faults)
      if (fault.phase === phase) realClock.after(1000 * (fault.afterS ?? 0), () => void make(fault));
  });
  const journal = readIfThere(outcome.journal) ?? '';
  const told = resultOf(step, journal, outcome, exitCodeOf(outcome), loaded);
  return {
    result: failed === null ? told : { ...told, ...unproven(step, loaded, failed) },
    journal,
    file: path.relative(proof.folder, outcome.journal),
    made: faults.length > 0,
    tripped: outcome.outcome === 'tripped',
  };
}

async function session(
  step: Step,
  { loaded, ports, by, state, folder }: RealProof,
  signals: Signals,
  onPhase: (phase: string) => void,
) {
  const order = (what: Step['orders'][number]['order'], afterS: number, runner: Runner): void => {
    realClock.after(1000 * afterS, () => runner.person({ order: what, by }));
  };
  const ended = await runReal({
    ...{ loaded, ports, state, by, order: 'start' },
    out: path.join(folder, 'journals'),
    wish: wishOf(step.wish),
    observing: step.observe,
    onReady: (runner) => signals.tell(runner),
    onProgress: (what, runner) => {
      if (what.kind !== 'phase') return;
      onPhase(what.phase);
      for (const o of step.orders) if (o.phase === what.phase) order(o.order, o.afterS, runner);
    },
  });
  signals.tell(null);
  if (ended.fault !== null) throw ended.fault;
  return ended;
}

/** Asks a person, with the caution; @returns null when it was confirmed, else why not */
async function byHand({ fault, hand }: MadeFault): Promise<string | null> {
  if (hand === undefined) return `${fault} cannot be made by hand`;
  say();
  say(paint('red', `CAUTION: ${hand.caution}`));
  for (let k = 0; k < TRIES; k++) {
    const typed = await asked(`When all stand clear, type '${hand.confirm}', then ${hand.ask}: `);
    if (typed === null) break;
    if (typed.trim() === hand.confirm) return null;
  }
  return `${fault} was not confirmed`;
}

/** Null when the question was broken off: Ctrl-C means what it means to the session under way. */
async function asked(question: string): Promise<string | null> {
  const terminal = createInterface({ input: process.stdin, output: process.stdout });
  const broken = new AbortController();
  terminal.on('SIGINT', () => {
    broken.abort();
    process.kill(process.pid, 'SIGINT');
  });
  try {
    return await terminal.question(question, { signal: broken.signal });
  } catch (error) {
    if (broken.signal.aborted) return null;
    throw error;
  } finally {
    terminal.close();
  }
}

/** Faults off, relays reset. */
async function takeBack(box: FaultBox | null): Promise<void> {
  if (box === null) await asked('Undo what was done by hand, reset the relay, and press Enter: ');
  else if (!(await box.clear())) complain('the fault box does not say that it is clear');
}

/** The next run begins as the first did. @returns null once it is acknowledged, else why it is not */
async function acknowledged(proof: RealProof, signals: Signals): Promise<string | null> {
  await new Promise<void>((resolve) => void realClock.after(SETTLES_MS, resolve));
  const { loaded, ports, by, state, folder } = proof;
  const { carriedOut, outcome } = await runReal({
    ...{ loaded, ports, state, by, order: 'acknowledge', wish: NO_WISH, onProgress: () => {} },
    out: path.join(folder, 'journals', 'acknowledged'),
    onReady: (runner) => signals.tell(runner),
  });
  signals.tell(null);
  return carriedOut ? null : outcome.refusals.map(({ text }) => text).join('; ') || outcome.endReason;
}
