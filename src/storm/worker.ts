/** A worker thread of a storm: draws and runs a stretch of sessions, answers with what they came to. */
import { parentPort } from 'node:worker_threads';
import { drawCase } from './draw.js';
import { runCase, type StormResult } from './run.js';

export interface Stretch {
  readonly seed: number;
  readonly from: number;
  readonly to: number;
}

async function run({ seed, from, to }: Stretch): Promise<StormResult[]> {
  const results: StormResult[] = [];
  for (let index = from; index < to; index++) results.push(await runCase(drawCase(seed, index)));
  return results;
}

parentPort?.on('message', (stretch: Stretch) => {
  run(stretch).then(
    (result) => parentPort?.postMessage({ result }),
    (error: unknown) =>
      parentPort?.postMessage({
        failure: error instanceof Error ? (error.stack ?? error.message) : String(error),
      }),
  );
});
