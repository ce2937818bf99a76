/**
 * Does the runs of a proof that are not done yet, keeps each as it is done, and lays the record down in order. What
 * was done before, by the same program on the same rig and procedures, is not done again.
 */
import path from 'node:path';
import { readResults, textOfResults } from '../campaign/results.js';
import { numbersOf, type Shard } from '../campaign/shard.js';
import { pieces } from '../host/big-file.js';
import { buildHash } from '../host/build.js';
import { appendDurably, isThere, readIfThere, writeDurably } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { runPool } from '../host/pool.js';
import { SOFTWARE } from '../host/version.js';
import type { LoadedRig } from '../rig/load.js';
import type { LoadedProcedure } from './load.js';
import { type PlannedRun, plan } from './plan.js';
import {
  differs,
  headerLine,
  PROVE_KIND,
  type ProofHeader,
  type ProofRecord,
  type RunRecord,
  readPart,
  runLine,
} from './record.js';
import type { Task } from './worker.js';

export interface CampaignOptions {
  readonly loaded: LoadedRig;
  /** As it was asked for, so that workers find it. */
  readonly rig: string;
  readonly procedures: readonly LoadedProcedure[];
  readonly seed: number;
  readonly repeat: number | null;
  /** The only step of the procedures that is asked for. */
  readonly step: string | null;
  readonly shard: Shard;
  readonly weakness: string | null;
  readonly folder: string;
  readonly workers?: number;
  /** Does the runs on a real charger, one after the other; the simulated one where absent. */
  readonly real?: { readonly charger: string; readonly doRuns: DoRuns };
  onProgress(done: number, of: number): void;
}

/** Does all of these, tells each as it is done, and gives them all back. */
export type DoRuns = (
  left: readonly PlannedRun[],
  onDone: (count: number, run: RunRecord) => void,
) => Promise<readonly RunRecord[]>;

/** Written while a proof runs, and the whole record in order once it is done. */
const PART = 'runs.part.ndjson';
export const RECORD = 'runs.ndjson';

export async function runCampaign(options: CampaignOptions): Promise<ProofRecord> {
  const { loaded, procedures, seed, repeat, step, shard, weakness, folder } = options;
  const all = plan(procedures, loaded, seed, repeat);
  const header: ProofHeader = {
    kind: PROVE_KIND.kind,
    software: SOFTWARE,
    build: buildHash(),
    seed,
    from: 0,
    cases: all.length,
    shard,
    rig: loaded.rig.name,
    rigHash: loaded.hash,
    procedures: procedures.map(({ procedure, hash }) => ({ name: procedure.name, hash })),
    repeat,
    step,
    charger: options.real?.charger ?? weakness ?? 'simulated',
  };
  const mine = numbersOf(header, shard).map((index) => all[index] as PlannedRun);
  const part = path.join(folder, PART);
  const before = earlier(folder, header, mine);
  // Anew: a last line that was cut off must not become the head of the next.
  writeDurably(part, headerLine(header) + before.map(runLine).join(''));
  const isDone = new Set(before.map((run) => run.index));
  const left = mine.filter((run) => !isDone.has(run.index));
  const already = mine.length - left.length;
  options.onProgress(already, mine.length);
  const doRuns: DoRuns = options.real?.doRuns ?? ((runs, onDone) => simulate(runs, options, onDone));
  const done = await doRuns(left, (count, run) => {
    appendDurably(part, runLine(run));
    options.onProgress(already + count, mine.length);
  });
  const runs = [...before, ...done].sort((a, b) => a.index - b.index);
  writeDurably(path.join(folder, RECORD), textOfResults({ header, cases: runs }));
  return { header, runs };
}

async function simulate(
  left: readonly PlannedRun[],
  { rig, weakness, folder, workers }: CampaignOptions,
  onDone: (count: number, run: RunRecord) => void,
): Promise<RunRecord[]> {
  if (left.length === 0) return [];
  const tasks = left.map((run): Task => ({ run, rig, weakness, folder }));
  const file = new URL('./worker.js', import.meta.url);
  return runPool<Task, RunRecord>(file, tasks, onDone, ...(workers ? [Math.min(workers, tasks.length)] : []));
}

/** What this folder holds already, begun or merged. @throws InputError when it is of another proof */
function earlier(folder: string, header: ProofHeader, mine: readonly PlannedRun[]): readonly RunRecord[] {
  const whole = path.join(folder, RECORD);
  const part = path.join(folder, PART);
  const found = isThere(whole) ? readWhole(whole) : readBegun(part);
  if (found === null) return [];
  const why = differs(found.header, header);
  if (why !== null)
    throw new InputError(`${folder} holds another proof: ${why}; give another --out, or remove that folder`);
  const planned = new Map(mine.map((run) => [run.index, run]));
  const odd = found.runs.find((run) => !isOf(planned.get(run.index), run));
  if (odd !== undefined)
    throw new InputError(
      `${folder}: run ${odd.index} is none of this proof; its record was changed, start the proof anew`,
    );
  return found.runs;
}

const isOf = (planned: PlannedRun | undefined, { procedure, step, repeat, seed }: RunRecord): boolean =>
  planned !== undefined &&
  planned.procedure === procedure &&
  planned.step.step === step &&
  planned.repeat === repeat &&
  planned.seed === seed;

function readBegun(file: string): ProofRecord | null {
  const text = readIfThere(file);
  return text === null ? null : readPart(text, file);
}

function readWhole(file: string): ProofRecord {
  const { header, cases } = readResults(file, pieces(file), { [PROVE_KIND.kind]: PROVE_KIND });
  return { header: header as ProofHeader, runs: cases };
}
