/** A worker thread: takes tasks one by one, answers each. */
import { parentPort } from 'node:worker_threads';
import { runTask, type Task } from './scenario-run.js';

parentPort?.on('message', (task: Task) => {
  runTask(task).then(
    (result) => parentPort?.postMessage({ result }),
    (error: unknown) =>
      parentPort?.postMessage({
        failure: error instanceof Error ? (error.stack ?? error.message) : String(error),
      }),
  );
});
