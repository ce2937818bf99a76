/**
 * Where a journal's bytes go. The real store is a file with fdatasync; simulated ones (simulators/) keep the
 * same promise over virtual time, or break it on purpose.
 *
 * Promise: `append` keeps order; when `sync` calls back without an error, everything appended before that
 * call survives a power loss. One sync is in flight at a time (the caller sees to it). After the first error
 * the store stays failed: every later sync fails too.
 */
import { closeSync, fdatasync, fsyncSync, openSync, writeSync } from 'node:fs';
import { dirname } from 'node:path';
import { openNew } from './durable-file.js';

export interface JournalStore {
  readonly path: string;
  append(text: string): void;
  sync(done: (error: Error | null) => void): void;
  /** Appends nothing more; resolves when the bytes handed over are on disk (or the store has failed). */
  close(): Promise<void>;
  /** The first error there was; a store that keeps none tells of it by `sync` alone. */
  readonly failure?: Error | null;
}

/** Opens a new file; fails when it exists, so that no journal is ever overwritten. @throws InputError */
export function openFileStore(path: string): JournalStore {
  const fd = openNew(path);
  // The name itself must survive a power loss too.
  const folder = openSync(dirname(path), 'r');
  try {
    fsyncSync(folder);
  } finally {
    closeSync(folder);
  }
  let failure: Error | null = null;
  let closed = false;
  const sync = (done: (error: Error | null) => void): void => {
    // Never before the call has returned: who asks may not be ready for the answer.
    if (failure !== null || closed) queueMicrotask(() => done(failure ?? new Error('journal is closed')));
    else
      fdatasync(fd, (error) => {
        if (error !== null) failure = error;
        done(error);
      });
  };
  return {
    path,
    append(text) {
      if (failure !== null || closed) return;
      try {
        // Written at once: a killed process loses nothing it appended; fdatasync covers a power loss.
        const bytes = Buffer.from(text, 'utf8');
        for (let at = 0; at < bytes.length; ) at += writeSync(fd, bytes, at);
      } catch (error) {
        failure = error as Error;
      }
    },
    sync,
    get failure() {
      return failure;
    },
    close: () =>
      new Promise((resolve) => {
        sync(() => {
          closed = true;
          try {
            closeSync(fd);
          } catch {
            // The failure is already known to whoever called sync.
          }
          resolve();
        });
      }),
  };
}
