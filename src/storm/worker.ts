/** A worker thread of a storm: draws and runs some sessions, answers with what they came to. */
import { parentPort } from 'node:worker_threads';
import { drawCase } from './draw.js';
import { runCase, type StormResult } from './run.js';

export interface Batch {
  readonly seed: number;
  readonly numbers: readonly number[];
}

async function run({ seed, numbers }: Batch): Promise<StormResult[]> {
  const results: StormResult[] = [];
  for (const index of numbers) results.push(await runCase(drawCase(seed, index)));
  return results;
}

parentPort?.on('message', (batch: Batch) => {
  run(batch).then(
    (result) => parentPort?.postMessage({ result }),
    (error: unknown) =>
      parentPort?.postMessage({
        failure: error instanceof Error ? (error.stack ?? error.message) : String(error),
      }),
  );
});
