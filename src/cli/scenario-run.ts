/** One scenario at one variation: run, held against declaration and invariants, and cut down to what is told. */
import path from 'node:path';
import { vary } from '../../simulators/scenario.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { TruthSummary } from '../../simulators/truth.js';
import { Audit } from '../audit/audit.js';
import { Judge } from '../audit/judge.js';
import { SOFTWARE } from '../host/version.js';
import { auditDeviations } from '../rehearsal/audit-judge.js';
import { deviations } from '../rehearsal/judge.js';
import { runJudged } from '../rehearsal/judged-run.js';
import { type Compared, TruthWitness } from '../rehearsal/truth-witness.js';
import { loadRig } from '../rig/load.js';
import type { Outcome } from '../supervisor/outcome.js';
import { loadScenario } from './scenarios-files.js';

export interface Task {
  readonly name: string;
  /** 0 is the scenario itself. */
  readonly variation: number;
  /** Folder for the trip latch, its own for each run. */
  readonly folder: string;
  /** Its journal is audited too: nothing may diverge, and the audit must name what the scenario declares. */
  readonly audited: boolean;
}

export interface Result {
  readonly name: string;
  readonly variation: number;
  readonly seed: number;
  readonly exit: number;
  readonly outcome: Outcome;
  readonly truth: TruthSummary;
  /** How many margins and extremes of its audit were held against the bench; null when it was not audited. */
  readonly compared: Pick<Compared, 'margins' | 'extremes'> | null;
  /** What is not as declared; empty when all is well. */
  readonly wrong: readonly string[];
}

export async function runTask({ name, variation, folder, audited }: Task): Promise<Result> {
  const declared = loadScenario(name);
  const scenario = vary(declared, variation, new SeededRandom(declared.seed).fork(`variation ${variation}`));
  const loaded = loadRig(scenario.rig);
  const witness = new TruthWitness(loaded.rig, scenario.inject);
  const { look, nearer } = witness;
  const audit = audited ? new Audit({ software: SOFTWARE, look, nearer }) : null;
  const { outcome, exit, truth, breaches, bench } = await runJudged(
    { loaded, scenario, stateDir: path.join(folder, `${name}-${variation}`) },
    new Judge(),
    (text) => audit?.feed(Buffer.from(text)),
    audited ? witness.truth : undefined,
  );
  const wrong = deviations(declared.expect, { outcome, exit, truth, breaches });
  if (audit === null)
    return { name, variation, seed: scenario.seed, exit, outcome, truth, compared: null, wrong };
  // A full disk holds no end: what it does hold must still stand.
  const cut = bench.faultLog.some(({ fault }) => fault === 'journal-full');
  const result = audit.end();
  const compared = witness.compare(result);
  wrong.push(...auditDeviations(declared.expect, result, truth, compared, cut));
  const { margins, extremes } = compared;
  return {
    name,
    variation,
    seed: scenario.seed,
    exit,
    outcome,
    truth,
    compared: { margins, extremes },
    wrong,
  };
}
