/** Reads the private key that signs a journal. */
import { realFiles, whyUnreadable } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import { type Signing, signingWith } from '../journal/keys.js';

/** @throws InputError */
export function readSigning(file: string): Signing {
  let text: string;
  try {
    text = realFiles.readText(file);
  } catch (error) {
    throw new InputError(`--sign ${file} cannot be read: ${whyUnreadable(error)}`);
  }
  return signingWith(text, file);
}
