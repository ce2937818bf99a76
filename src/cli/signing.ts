/** What protects a journal, the same for every command that writes one: a key that signs it, a head kept elsewhere. */
import type { Command } from 'commander';
import { type Signing, signingWith } from '../journal/keys.js';
import { textOf } from './option-file.js';

export interface Protection {
  readonly sign?: string;
  readonly headFile?: string;
}

export const protectedBy = (command: Command): Command =>
  command
    .option('--sign <file>', 'private key that signs the journal; see `keys new`')
    .option('--head-file <file>', 'keep the newest seal of the journal here too, best on another disk');

/** For `runReal`. @throws InputError */
export const protection = ({ sign, headFile }: Protection) => ({
  signing: sign === undefined ? undefined : readSigning(sign),
  headFile,
});

/** @throws InputError */
export function readSigning(file: string): Signing {
  return signingWith(textOf('--sign', file), file);
}
