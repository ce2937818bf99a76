/** Result files on disk: written whole or not at all, read piece by piece. */
import {
  type CampaignKind,
  type NumberedCase,
  type Results,
  type ResultsFile,
  readResults,
  textOfResults,
} from '../campaign/results.js';
import { pieces } from '../host/big-file.js';
import { writeOut } from './write-out.js';

/** Replaces what was there. @throws InputError when it cannot be written */
export function writeResults<C extends NumberedCase>(file: string, results: Results<C>): void {
  writeOut(file, textOfResults(results));
}

/** @throws InputError */
export const loadResults = <C extends NumberedCase>(
  file: string,
  kinds: Readonly<Record<string, CampaignKind<C>>>,
): ResultsFile<C> => readResults(file, pieces(file), kinds);
