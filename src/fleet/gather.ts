/** Reads every journal below a folder on worker threads and adds them up, in the order of their paths. */
import { type Found, filesBelow, whyUnreadable } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import { runPool } from '../host/pool.js';
import { type JournalRead, unreadable } from './one.js';
import { type FleetSummary, Gathering } from './summary.js';
import type { Stretch } from './worker.js';

export const JOURNAL_ENDING = '.ndjson';
/** Enough for little traffic between threads, few enough that the last ones end together. */
const STRETCH = 8;
/** So many journals are in hand at a time; what is kept of the rest is figures. */
const BATCH = 2048;

export interface GatherOptions {
  readonly folder: string;
  readonly replay: boolean;
  readonly withinWeeks: number;
  onProgress(done: number, of: number): void;
}

/** Why a folder a person named cannot be looked into. */
export function folderError(folder: string, error: unknown): InputError {
  const { code } = error as NodeJS.ErrnoException;
  const why = code === 'ENOENT' ? 'there is no such folder' : whyUnreadable(error);
  return new InputError(`${folder} cannot be used: ${why}`);
}

/** @throws InputError when there is no such folder, or nothing in it */
export function journalsBelow(folder: string): Found[] {
  let found: Found[];
  try {
    found = filesBelow(folder, JOURNAL_ENDING);
  } catch (error) {
    throw folderError(folder, error);
  }
  if (found.length === 0)
    throw new InputError(`${folder}: there is no journal (*${JOURNAL_ENDING}) below it`);
  return found;
}

export async function gather(options: GatherOptions): Promise<FleetSummary> {
  const { folder, replay, withinWeeks, onProgress } = options;
  const found = journalsBelow(folder);
  const all = new Gathering(folder, replay);
  for (let from = 0; from < found.length; from += BATCH) {
    const batch = found.slice(from, from + BATCH);
    const good = batch.filter((f) => f.trouble === undefined).map((f) => f.file);
    const stretches: Stretch[] = [];
    for (let k = 0; k < good.length; k += STRETCH)
      stretches.push({ files: good.slice(k, k + STRETCH), replay });
    const read = await runPool<Stretch, JournalRead[]>(
      new URL('./worker.js', import.meta.url),
      stretches,
      (done) => onProgress(Math.min(found.length, from + done * STRETCH), found.length),
    );
    const byFile = new Map(read.flat().map((r) => [r.file, r]));
    for (const { file, trouble = '' } of batch) all.add(byFile.get(file) ?? unreadable(file, trouble));
  }
  return all.end(withinWeeks);
}
