/**
 * Recordings of oscilloscopes and loggers: text with a header row, read into columns of numbers and words.
 *
 * The separator is a comma, a semicolon or a tab, told from the header; the decimal mark is a point or a comma,
 * the same throughout. Units are part of the header names, so a file in other units is refused, never guessed.
 * Columns that are not asked for are ignored. Pure: text in, columns out.
 */
import { CsvError, parse } from 'csv-parse/sync';
import { type Fault, InputError } from '../host/input-error.js';

export interface Column {
  /** As in the header, unit last, e.g. `current_a`. */
  readonly name: string;
  readonly kind: 'number' | 'word';
  /** May be missing from the header; is then missing from `columns` too. */
  readonly optional?: boolean;
  /** Words that may stand in a `word` column; any, when not given. */
  readonly words?: readonly string[];
}

export interface RecordingOptions {
  /** Column that may not fall; '' when the file has no time. Default `time_s`. */
  readonly timeColumn?: string;
  /** Two rows at the same time are allowed. Default false. */
  readonly repeatedTimes?: boolean;
  /** Default 2. */
  readonly minRows?: number;
  /** Default `MAX_ROWS`. */
  readonly maxRows?: number;
}

export interface Recording {
  /** By header name: Float64Array for numbers, string[] for words. */
  readonly columns: Readonly<Record<string, Float64Array | string[]>>;
  readonly rows: number;
}

/** Bounds what one recording takes in memory. */
export const MAX_ROWS = 2_000_000;
/** Faults told at once: more would bury the first. */
const MAX_FAULTS = 10;
const SEPARATORS = ['\t', ';', ','] as const;
const SEPARATOR_NAMES: Readonly<Record<string, string>> = { '\t': 'tab', ';': 'semicolon', ',': 'comma' };
const NUMBER = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?$/;

/**
 * @param file as shown to people
 * @throws InputError naming file, line, what was found and what was expected
 */
export function readRecording(
  text: string,
  file: string,
  columns: readonly Column[],
  options: RecordingOptions = {},
): Recording {
  const reader = new Reader(file, columns, options);
  const separator = separatorOf(text);
  try {
    parse(text, {
      bom: true,
      delimiter: separator,
      relax_column_count: true,
      relax_quotes: true,
      skip_empty_lines: true,
      trim: true,
      on_record: (record: string[], { lines }) => {
        reader.take(record, lines, separator);
        return null;
      },
    });
  } catch (error) {
    if (error instanceof Enough) return reader.end();
    if (!(error instanceof CsvError)) throw error;
    const line = typeof error.lines === 'number' ? error.lines : 0;
    reader.fault(line, '', `the text cannot be taken apart into cells: ${error.message}`);
  }
  return reader.end();
}

/** A column read by `readRecording` as numbers. @throws when it is no such column: a fault of ours */
export function numbersOf(recording: Recording, name: string): Float64Array {
  const column = recording.columns[name];
  if (!(column instanceof Float64Array)) throw new Error(`column ${name} was not read as numbers`);
  return column;
}

/** A column read by `readRecording` as words. @throws when it is no such column: a fault of ours */
export function wordsOf(recording: Recording, name: string): readonly string[] {
  const column = recording.columns[name];
  if (!Array.isArray(column)) throw new Error(`column ${name} was not read as words`);
  return column;
}

/** The one that stands most often in the header row; a single column has none and takes the comma. */
function separatorOf(text: string): string {
  const end = text.search(/[\r\n]/);
  const header = end < 0 ? text : text.slice(0, end);
  const counts = SEPARATORS.map((s) => header.split(s).length - 1);
  const most = Math.max(...counts);
  return most > 0 ? (SEPARATORS[counts.indexOf(most)] ?? ',') : ',';
}

/** Thrown to leave the parser early; never leaves this file. */
class Enough extends Error {}

class Reader {
  readonly #file: string;
  readonly #wanted: readonly Column[];
  readonly #options: RecordingOptions;
  readonly #faults: Fault[] = [];
  #headerLine = 0;
  #cells = 0;
  /** Cell number of each wanted column, −1 when it is not there. */
  #at: number[] = [];
  readonly #numbers: number[][];
  readonly #words: string[][];
  readonly #timeIndex: number;
  #rows = 0;
  #lastTime = Number.NEGATIVE_INFINITY;
  #lastLine = 0;
  /** The decimal mark seen first and where: a file that mixes both was put together from two. */
  #mark: '.' | ',' | '' = '';
  #markLine = 0;

  constructor(file: string, wanted: readonly Column[], options: RecordingOptions) {
    this.#file = file;
    this.#wanted = wanted;
    this.#options = options;
    this.#numbers = wanted.map(() => []);
    this.#words = wanted.map(() => []);
    const time = options.timeColumn ?? 'time_s';
    this.#timeIndex = wanted.findIndex((c) => c.name === time && c.kind === 'number');
  }

  fault(line: number, path: string, message: string): void {
    this.#faults.push({ file: this.#file, line, path, message });
    if (this.#faults.length >= MAX_FAULTS) throw new Enough();
  }

  take(record: readonly string[], line: number, separator: string): void {
    if (this.#headerLine === 0) this.#header(record, line, separator);
    else this.#row(record, line);
  }

  #header(record: readonly string[], line: number, separator: string): void {
    this.#headerLine = line;
    this.#cells = record.length;
    this.#at = this.#wanted.map((c) => record.indexOf(c.name));
    const expected = this.#wanted.filter((c) => c.optional !== true).map((c) => c.name);
    const missing = this.#wanted.filter((c, i) => c.optional !== true && this.#at[i] === -1);
    if (missing.length > 0) {
      const found = shorten(record.join(' | '));
      this.fault(
        line,
        missing.map((c) => c.name).join(', '),
        `the header row has no such column: found ${found} (separator: ${SEPARATOR_NAMES[separator]}), expected ` +
          `${expected.join(', ')}, separated by comma, semicolon or tab`,
      );
    }
    for (const { name } of this.#wanted) {
      if (record.indexOf(name) === record.lastIndexOf(name)) continue;
      this.fault(line, name, 'the header row has this column twice, expected it once');
    }
    // With a wrong header every row would be a fault of its own.
    if (this.#faults.length > 0) throw new Enough();
  }

  #row(record: readonly string[], line: number): void {
    const maxRows = this.#options.maxRows ?? MAX_ROWS;
    if (this.#rows >= maxRows) {
      this.fault(line, '', `found more than ${maxRows} rows, expected at most that many: thin the recording`);
      throw new Enough();
    }
    // More cells than the header has: a decimal comma was taken for a separator, and every value is wrong.
    if (record.length > this.#cells && record.slice(this.#cells).some((cell) => cell !== '')) {
      this.fault(
        line,
        '',
        `found ${record.length} cells, expected ${this.#cells} as in the header; with a decimal comma, separate ` +
          'by semicolon or tab',
      );
      // Its cells belong to no column.
      this.#rows += 1;
      return;
    }
    for (let k = 0; k < this.#wanted.length; k++) {
      const column = this.#wanted[k]!;
      const at = this.#at[k]!;
      if (at < 0) continue;
      const cell = record[at];
      if (column.kind === 'word') {
        this.#words[k]!.push(this.#word(cell, column, line));
        continue;
      }
      const value = this.#number(cell, column.name, line);
      this.#numbers[k]!.push(value);
      if (k === this.#timeIndex) this.#checkTime(value, column.name, line);
    }
    this.#rows += 1;
    this.#lastLine = line;
  }

  #word(cell: string | undefined, column: Column, line: number): string {
    const word = cell ?? '';
    if (column.words !== undefined && !column.words.includes(word)) {
      this.fault(line, column.name, `found ${quote(cell)}, expected one of ${column.words.join(', ')}`);
    }
    return word;
  }

  #number(cell: string | undefined, name: string, line: number): number {
    if (cell === undefined || !NUMBER.test(cell)) {
      this.fault(line, name, `found ${quote(cell)}, expected a number`);
      return Number.NaN;
    }
    const mark = cell.includes(',') ? ',' : cell.includes('.') ? '.' : '';
    if (mark !== '' && this.#mark === '') {
      this.#mark = mark;
      this.#markLine = line;
    } else if (mark !== '' && mark !== this.#mark) {
      this.fault(
        line,
        name,
        `found ${quote(cell)}, expected the decimal mark "${this.#mark}" as in line ${this.#markLine}`,
      );
    }
    const value = Number(mark === ',' ? cell.replace(',', '.') : cell);
    if (!Number.isFinite(value)) this.fault(line, name, `found ${quote(cell)}, expected a finite number`);
    return value;
  }

  #checkTime(value: number, name: string, line: number): void {
    const repeated = value === this.#lastTime;
    if (value < this.#lastTime || (repeated && this.#options.repeatedTimes !== true)) {
      this.fault(
        line,
        name,
        `found ${value} after ${this.#lastTime} in line ${this.#lastLine}, expected time to rise` +
          `${this.#options.repeatedTimes === true ? ' or stand' : ''} from row to row`,
      );
    }
    if (Number.isFinite(value)) this.#lastTime = value;
  }

  /** @throws InputError when anything was wrong */
  end(): Recording {
    const minRows = this.#options.minRows ?? 2;
    if (this.#faults.length === 0) {
      const message =
        this.#headerLine === 0
          ? `found nothing, expected a header row ${this.#wanted.map((c) => c.name).join(', ')}`
          : `found ${this.#rows} rows, expected at least ${minRows}`;
      if (this.#headerLine === 0 || this.#rows < minRows)
        this.#faults.push({ file: this.#file, line: this.#lastLine, path: '', message });
    }
    if (this.#faults.length > 0) throw new InputError(`recording ${this.#file} cannot be used`, this.#faults);
    const columns: Record<string, Float64Array | string[]> = {};
    this.#wanted.forEach((column, k) => {
      if (this.#at[k] === -1) return;
      columns[column.name] = column.kind === 'word' ? this.#words[k]! : Float64Array.from(this.#numbers[k]!);
    });
    return { columns, rows: this.#rows };
  }
}

const LONGEST_QUOTE = 60;
const shorten = (text: string): string =>
  text.length > LONGEST_QUOTE * 3 ? `${text.slice(0, LONGEST_QUOTE * 3)}…` : text;
const quote = (cell: string | undefined): string => {
  if (cell === undefined || cell === '') return 'an empty cell';
  return `"${cell.length > LONGEST_QUOTE ? `${cell.slice(0, LONGEST_QUOTE)}…` : cell}"`;
};
