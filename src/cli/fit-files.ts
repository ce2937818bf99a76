/** The files `fit raft` reads: recorded charges and tables of open-circuit volts. */
import { MAX_RECORDING_BYTES, realFiles } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import type { ChargeRecord } from '../measure/charge-record.js';
import { numbersOf } from '../measure/csv.js';
import type { OcvPoint } from '../measure/ocv-table.js';
import { loadRecording } from './recording.js';

const LEAST_ROWS = 20;
const LEAST_OCV_ROWS = 3;
/** Columns of a cell's temperature, the first there is being taken: its own, then of the middle, then any. */
const CELL_C = [/^cell_degc$/, /^cell_c$/, /mid\w*_degc$/, /^(?!.*ambient)\w+_degc$/] as const;

/** Cells in series and strings in parallel that were recorded together. */
export interface Together {
  readonly series: number;
  readonly parallel: number;
}

/** @throws InputError naming file, line and what was expected */
export function loadCharge(file: string, { series, parallel }: Together): ChargeRecord {
  const temperature = temperatureColumn(file);
  const recording = loadRecording(
    file,
    [
      { name: 'time_s', kind: 'number' },
      { name: 'current_a', kind: 'number' },
      { name: 'voltage_v', kind: 'number' },
      ...(temperature === null ? [] : [{ name: temperature, kind: 'number' } as const]),
    ],
    { repeatedTimes: true, minRows: LEAST_ROWS },
  );
  const record: ChargeRecord = {
    timeS: numbersOf(recording, 'time_s'),
    currentA: numbersOf(recording, 'current_a').map((a) => a / parallel),
    voltageV: numbersOf(recording, 'voltage_v').map((v) => v / series),
    ...(temperature === null ? {} : { cellC: numbersOf(recording, temperature) }),
  };
  const shown = realFiles.show(file);
  const fault = (path: string, message: string): never => {
    throw new InputError(`recording ${shown} cannot be used`, [{ file: shown, line: 0, path, message }]);
  };
  if (record.currentA.every((a) => a === 0)) fault('current_a', 'no current flows, expected a charge');
  if (record.timeS.at(-1) === record.timeS[0]) fault('time_s', 'time stands still, expected it to rise');
  return record;
}

/** @throws InputError naming file, line and what was expected */
export function loadOcv(file: string): OcvPoint[] {
  const table = loadRecording(
    file,
    [
      { name: 'soc_percent', kind: 'number' },
      { name: 'ocv_mean_v', kind: 'number' },
      { name: 'hysteresis_mean_v', kind: 'number', optional: true },
    ],
    { timeColumn: '', minRows: LEAST_OCV_ROWS },
  );
  const soc = numbersOf(table, 'soc_percent');
  const v = numbersOf(table, 'ocv_mean_v');
  const shown = realFiles.show(file);
  // The header is line 1.
  const refuse = (k: number, expected: string): never => {
    const message = `found ${soc[k]}, expected ${expected}`;
    throw new InputError(`table ${shown} cannot be used`, [
      { file: shown, line: k + 2, path: 'soc_percent', message },
    ]);
  };
  const falls = soc[1]! < soc[0]!;
  soc.forEach((percent, k) => {
    if (!(percent >= 0 && percent <= 100)) refuse(k, '0 to 100');
    if (k > 0 && !(falls ? percent < soc[k - 1]! : percent > soc[k - 1]!))
      refuse(k, `${falls ? 'less' : 'more'} than the ${soc[k - 1]} before it`);
  });
  const hysteresis =
    table.columns.hysteresis_mean_v === undefined ? null : numbersOf(table, 'hysteresis_mean_v');
  return Array.from(soc, (percent, k) => ({
    soc: percent / 100,
    v: v[k]!,
    ...(hysteresis === null ? {} : { hysteresisV: hysteresis[k]! }),
  }));
}

/** Null when the header names none, or the file cannot be read (which is told when its rows are). */
function temperatureColumn(file: string): string | null {
  let header: string;
  try {
    header = realFiles.readText(file, MAX_RECORDING_BYTES).split(/\r?\n/, 1)[0] ?? '';
  } catch {
    return null;
  }
  const names = header.split(/[,;\t]/).map((name) => name.trim().replace(/^\uFEFF/, ''));
  for (const pattern of CELL_C) {
    const found = names.find((name) => pattern.test(name));
    if (found !== undefined) return found;
  }
  return null;
}
