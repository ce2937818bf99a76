/** What the measure commands share: reading a recording, the `--require` rule, figures for people. */
import { InvalidArgumentError } from 'commander';
import { MAX_RECORDING_BYTES, realFiles, whyUnreadable } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import { type Column, type Recording, type RecordingOptions, readRecording } from '../measure/csv.js';
import { EXIT } from '../supervisor/outcome.js';
import { complain, figure } from './print.js';

/** @throws InputError when the file cannot be read or used */
export function loadRecording(
  file: string,
  columns: readonly Column[],
  options: RecordingOptions = {},
): Recording {
  const shown = realFiles.show(file);
  let text: string;
  try {
    text = realFiles.readText(file, MAX_RECORDING_BYTES);
  } catch (error) {
    throw new InputError(`recording ${shown} cannot be read: ${whyUnreadable(error)}`);
  }
  return readRecording(text, shown, columns, options);
}

/** Parser of `--require`: one of the verdicts there are. */
export const oneOf =
  (verdicts: readonly string[]) =>
  (text: string): string => {
    if (!verdicts.includes(text)) throw new InvalidArgumentError(`expected one of ${verdicts.join(', ')}`);
    return text;
  };

/** A verdict was reached: exit 0, or 7 when another one was required. */
export function requireVerdict(verdict: string, required: string | undefined): void {
  if (required === undefined || verdict === required) return;
  complain(`required verdict ${required}, found ${verdict}`);
  process.exitCode = EXIT.requirementFailed;
}

/** `45.1 ± 0.3`, with the digits the uncertainty leaves meaningful. */
export function withUncertainty(value: number, uncertainty: number): string {
  if (!Number.isFinite(value) || !Number.isFinite(uncertainty) || !(uncertainty > 0)) return figure(value);
  const decimals = Math.min(9, Math.max(0, 1 - Math.floor(Math.log10(uncertainty))));
  return `${value.toFixed(decimals)} ± ${uncertainty.toFixed(decimals)}`;
}

/** JSON has no infinity and no NaN: what cannot be stated is null. */
export const stated = (value: number): number | null => (Number.isFinite(value) ? value : null);
