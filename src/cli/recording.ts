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
  refuseBytes(text, shown);
  return readRecording(text, shown, columns, options);
}

/** Bytes that no text holds, as in a device's own format or UTF-16: of them a terminal makes anything. */
function refuseBytes(text: string, shown: string): void {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: it is them that are sought
  const at = text.search(/[\x00-\x08\x0e-\x1f]/);
  if (at < 0) return;
  const line = text.slice(0, at).split(/\r\n|\r|\n/).length;
  const byte = text.charCodeAt(at).toString(16).padStart(2, '0');
  const message = `found the byte 0x${byte}, expected text: CSV in UTF-8 with a header row`;
  throw new InputError(`recording ${shown} cannot be used`, [{ file: shown, line, path: '', message }]);
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
