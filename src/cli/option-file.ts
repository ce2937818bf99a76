/** A file that an option names, as text. */
import { realFiles, whyUnreadable } from '../host/files.js';
import { InputError } from '../host/input-error.js';

/** @throws InputError naming option and file */
export function textOf(option: string, file: string): string {
  try {
    return realFiles.readText(file);
  } catch (error) {
    throw new InputError(`${option} ${file} cannot be read: ${whyUnreadable(error)}`);
  }
}
