/**
 * Does the runs of a proof that are not done yet, keeps each as it is done, and lays the record down in order. What
 * was done before, by the same program on the same rig and procedures, is not done again.
 */
import path from 'node:path';
import { appendDurably, readIfThere, writeDurably } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { runPool } from '../host/pool.js';
import { SOFTWARE } from '../host/version.js';
import type { LoadedRig } from '../rig/load.js';
import type { LoadedProcedure } from './load.js';
import { inShard, type PlannedRun, plan, type Shard } from './plan.js';
import {
  differs,
  headerLine,
  type ProofRecord,
  RECORD_FORMAT,
  RECORD_VERSION,
  type RecordHeader,
  type RunRecord,
  readRecord,
  runLine,
  sameShard,
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
  readonly shard: Shard | null;
  readonly weakness: string | null;
  readonly folder: string;
  readonly workers?: number;
  onProgress(done: number, of: number): void;
}

/** Written while a proof runs, and the whole record in order once it is done. */
const PART = 'runs.part.ndjson';
export const RECORD = 'runs.ndjson';

export async function runCampaign(options: CampaignOptions): Promise<ProofRecord> {
  const { loaded, procedures, seed, repeat, step, shard, weakness, folder } = options;
  const all = plan(procedures, loaded, seed, repeat);
  const header: RecordHeader = {
    format: RECORD_FORMAT,
    version: RECORD_VERSION,
    software: SOFTWARE,
    rig: loaded.rig.name,
    rigHash: loaded.hash,
    procedures: procedures.map(({ procedure, hash }) => ({ name: procedure.name, hash })),
    seed,
    repeat,
    step,
    charger: weakness ?? 'simulated',
    runs: all.length,
    shard,
  };
  const mine = shard === null ? all : all.filter((run) => inShard(run, shard));
  const part = path.join(folder, PART);
  const before = earlier(folder, header, mine);
  // Anew: a last line that was cut off must not become the head of the next.
  writeDurably(part, recordText({ header, runs: before }));
  const isDone = new Set(before.map((run) => run.index));
  const left = mine.filter((run) => !isDone.has(run.index));
  const already = mine.length - left.length;
  options.onProgress(already, mine.length);
  const done = await doAll(left, options, (count, run) => {
    appendDurably(part, runLine(run));
    options.onProgress(already + count, mine.length);
  });
  const record = { header, runs: [...before, ...done].sort((a, b) => a.index - b.index) };
  writeDurably(path.join(folder, RECORD), recordText(record));
  return record;
}

export const recordText = ({ header, runs }: ProofRecord): string =>
  headerLine(header) + runs.map(runLine).join('');

async function doAll(
  left: readonly PlannedRun[],
  { rig, weakness, folder, workers }: CampaignOptions,
  onDone: (count: number, run: RunRecord) => void,
): Promise<RunRecord[]> {
  if (left.length === 0) return [];
  const tasks = left.map((run): Task => ({ run, rig, weakness, folder }));
  const file = new URL('./worker.js', import.meta.url);
  return runPool<Task, RunRecord>(file, tasks, onDone, ...(workers ? [Math.min(workers, tasks.length)] : []));
}

/** What this folder holds already. @throws InputError when it is of another proof */
function earlier(folder: string, header: RecordHeader, mine: readonly PlannedRun[]): readonly RunRecord[] {
  const text = readIfThere(path.join(folder, PART));
  if (text === null) return [];
  const shown = path.join(folder, PART);
  const { header: found, runs } = readRecord(text, shown);
  const why = differs(found, header) ?? (sameShard(found.shard, header.shard) ? null : 'it is another shard');
  if (why !== null)
    throw new InputError(
      `${shown} is the record of another proof: ${why}; give another --out, or remove that folder`,
    );
  const planned = new Map(mine.map((run) => [run.index, run]));
  const odd = runs.find((run) => !isOf(planned.get(run.index), run));
  if (odd !== undefined)
    throw new InputError(
      `${shown}: run ${odd.index} is none of this proof; the record was changed, start the proof anew`,
    );
  return runs;
}

const isOf = (planned: PlannedRun | undefined, { procedure, step, repeat, seed }: RunRecord): boolean =>
  planned !== undefined &&
  planned.procedure === procedure &&
  planned.step.step === step &&
  planned.repeat === repeat &&
  planned.seed === seed;
