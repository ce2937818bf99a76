/** Reads journals one after the other; of each only a few figures are kept, and each rig once. */
import type { Found } from '../host/files.js';
import type { Rig } from '../rig/schema.js';
import { type LeftOut, readSession, type SessionFound } from './session.js';

export function readAll(
  found: readonly Found[],
  onProgress: (done: number, of: number) => void = () => {},
): (SessionFound | LeftOut)[] {
  const rigs = new Map<string, Rig>();
  return found.map(({ file, trouble }, k) => {
    const read = trouble === undefined ? readSession(file) : { file, why: trouble };
    onProgress(k + 1, found.length);
    if ('why' in read) return read;
    const figures = rigs.get(read.rigHash) ?? read.figures;
    rigs.set(read.rigHash, figures);
    return { ...read, figures };
  });
}
