/** Reads a file of any size piece by piece. */
import { closeSync, openSync, readSync, statSync } from 'node:fs';
import { whyUnreadable } from './files.js';
import { InputError } from './input-error.js';

/** Large enough for bulk speed, small enough to hold a few. */
const PIECE_BYTES = 1 << 20;

/**
 * The pieces of a file in order. Each is a view of one buffer that is used again: copy what is to be kept.
 * @throws InputError when it cannot be read
 */
export function* pieces(path: string): Generator<Buffer> {
  let fd: number;
  try {
    const stat = statSync(path);
    if (stat.isDirectory()) throw Object.assign(new Error('it is a folder'), { code: 'EISDIR' });
    fd = openSync(path, 'r');
  } catch (error) {
    throw new InputError(`${path} cannot be read: ${whyUnreadable(error)}`);
  }
  const buffer = Buffer.allocUnsafe(PIECE_BYTES);
  try {
    for (;;) {
      let count: number;
      try {
        count = readSync(fd, buffer, 0, PIECE_BYTES, null);
      } catch (error) {
        throw new InputError(`${path} cannot be read: ${whyUnreadable(error)}`);
      }
      if (count === 0) return;
      yield buffer.subarray(0, count);
    }
  } finally {
    closeSync(fd);
  }
}
