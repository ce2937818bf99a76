/** A worker thread: reads a stretch of journals, answers with what they add up to. */
import { parentPort } from 'node:worker_threads';
import { type JournalRead, readJournal } from './one.js';

export interface Stretch {
  readonly files: readonly string[];
  readonly replay: boolean;
}

parentPort?.on('message', ({ files, replay }: Stretch) => {
  const result: JournalRead[] = files.map((file) => readJournal(file, replay));
  parentPort?.postMessage({ result });
});
