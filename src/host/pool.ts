/** Runs tasks on worker threads; results come back in the order of the tasks, whatever finishes first. */
import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';

export async function runPool<T, R>(
  file: URL,
  tasks: readonly T[],
  onDone: (done: number, result: R) => void,
  workers = Math.min(availableParallelism(), tasks.length),
): Promise<R[]> {
  const results = new Array<R>(tasks.length);
  let next = 0;
  let done = 0;
  const one = (): Promise<void> =>
    new Promise((resolve, reject) => {
      const worker = new Worker(file);
      let at = -1;
      const give = (): void => {
        at = next++;
        if (at < tasks.length) worker.postMessage(tasks[at]);
        else void worker.terminate().then(() => resolve());
      };
      worker.on('message', (message: { result?: R; failure?: string }) => {
        if (message.failure !== undefined) {
          void worker.terminate();
          reject(new Error(message.failure));
          return;
        }
        results[at] = message.result as R;
        onDone(++done, message.result as R);
        give();
      });
      worker.on('error', reject);
      give();
    });
  await Promise.all(Array.from({ length: Math.max(1, workers) }, one));
  return results;
}
