/** A worker thread: does runs of a proof one by one, writes the journal of each. */
import path from 'node:path';
import { parentPort } from 'node:worker_threads';
import { writeDurably } from '../host/durable-file.js';
import { type LoadedRig, loadRig } from '../rig/load.js';
import { SOUND, WEAKNESSES } from './charger.js';
import type { PlannedRun } from './plan.js';
import { journalName, type RunRecord, recordOf } from './record.js';
import { runStep } from './run-step.js';

export interface Task {
  readonly run: PlannedRun;
  readonly rig: string;
  readonly weakness: string | null;
  /** Folder of the proof. */
  readonly folder: string;
}

const rigs = new Map<string, LoadedRig>();
function rigOf(name: string): LoadedRig {
  const loaded = rigs.get(name) ?? loadRig(name);
  rigs.set(name, loaded);
  return loaded;
}

async function doRun({ run, rig, weakness, folder }: Task): Promise<RunRecord> {
  const charger = weakness === null ? SOUND : (WEAKNESSES[weakness] as typeof SOUND);
  const { journal, ...result } = await runStep(run.step, rigOf(rig), charger, run.seed);
  const file = journalName(run);
  writeDurably(path.join(folder, file), journal);
  return recordOf(run, file, journal, result);
}

parentPort?.on('message', (task: Task) => {
  doRun(task).then(
    (result) => parentPort?.postMessage({ result }),
    (error: unknown) =>
      parentPort?.postMessage({
        failure: error instanceof Error ? (error.stack ?? error.message) : String(error),
      }),
  );
});
