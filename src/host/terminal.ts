/** Bytes into a terminal that must never make its writer wait. */
import { writeSync } from 'node:fs';

/**
 * Writes what the terminal takes now; the rest is lost, as on a line without flow control. The descriptor must
 * be non-blocking. Streams cannot do this: on the master side of a pseudo-terminal they spin until someone reads.
 *
 * @returns how many bytes were taken @throws Error of the system, other than "try again"
 */
export function writeSome(fd: number, bytes: Uint8Array): number {
  try {
    return writeSync(fd, bytes);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EAGAIN') return 0;
    throw error;
  }
}
