/** A file that somebody asked for, replacing what was there. */
import { placeError, writeDurably } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';

/** @throws InputError when it cannot be written */
export function writeOut(file: string, text: string | Iterable<string>): void {
  try {
    writeDurably(file, text);
  } catch (error) {
    throw error instanceof InputError ? error : placeError(file, error);
  }
}
