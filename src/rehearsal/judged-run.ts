/** A session in virtual time with every invariant held against its journal and the truth of the bench as it runs. */
import { type TrueReadingSink, truthColumns } from '../../simulators/truth.js';
import { type Breach, Judge } from '../audit/judge.js';
import { runVirtual, type VirtualRun, type VirtualRunOptions } from './virtual-run.js';

/** Spacing of the truth: what is bare or live for less is no matter of these invariants. */
const TRUTH_EVERY_MS = 10;

export interface JudgedRun extends VirtualRun {
  readonly breaches: readonly Breach[];
}

export async function runJudged(
  options: Omit<VirtualRunOptions, 'sink' | 'truth' | 'journalPath'>,
  judge = new Judge(),
  tee: (text: string) => void = () => {},
  reading?: TrueReadingSink,
): Promise<JudgedRun> {
  const { loaded, scenario } = options;
  judge.columns(truthColumns(loaded.rig.battery.rafts.length));
  for (const { fault } of scenario.inject) judge.faults.add(fault);
  // A mistake of the judge is told as such, never as a failure of the supervisor that writes to it.
  let failure: unknown = null;
  const guarded = (judging: () => void): void => {
    if (failure !== null) return;
    try {
      judging();
    } catch (error) {
      failure = error;
    }
  };
  const run = await runVirtual({
    ...options,
    journalPath: 'journal',
    sink: {
      append: (text) => {
        tee(text);
        guarded(() => judge.text(text));
      },
      close: async () => {},
    },
    truth: {
      everyMs: TRUTH_EVERY_MS,
      sink: { row: (values) => guarded(() => judge.row(values)) },
      ...(reading ? { reading } : {}),
    },
  });
  if (failure !== null) throw failure;
  // A journal that has once failed has no end to read.
  const cut = run.bench.faultLog.some((f) => f.fault === 'journal-full');
  return { ...run, breaches: judge.end(cut ? run.outcome : null, cut) };
}
