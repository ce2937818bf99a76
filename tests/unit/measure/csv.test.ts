import { describe, expect, test } from 'vitest';
import { InputError } from '../../../src/host/input-error.js';
import {
  type Column,
  numbersOf,
  type RecordingOptions,
  readRecording,
  wordsOf,
} from '../../../src/measure/csv.js';

const COLUMNS: readonly Column[] = [
  { name: 'time_s', kind: 'number' },
  { name: 'current_a', kind: 'number' },
];
const read = (text: string, options?: RecordingOptions, columns = COLUMNS) =>
  readRecording(text, 'rec.csv', columns, options);

/** What a person is told, without the first line. */
function faults(text: string, options?: RecordingOptions, columns = COLUMNS): string[] {
  try {
    read(text, options, columns);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return error.message
      .split('\n')
      .slice(1)
      .map((line) => line.trim());
  }
  return [];
}

describe('recordings that can be read', () => {
  test.each([
    ['comma, point', 'time_s,current_a\n0,1.5\n0.1,-2e-3\n'],
    ['semicolon, comma', 'time_s;current_a\r\n0;1,5\r\n0,1;-2e-3\r\n'],
    ['semicolon, point', 'time_s;current_a\n0;1.5\n0.1;-2E-3'],
    ['tab, comma', 'time_s\tcurrent_a\n0\t1,5\n0,1\t-2e-3\n'],
    ['comma, quoted decimal comma', 'time_s,current_a\n0,"1,5"\n"0,1",-2e-3\n'],
    [
      'byte order mark, spaces, other columns, blank lines',
      '\ufeff note, time_s , current_a\nx, 0, 1.5\n\n, 0.1, -2e-3\n',
    ],
  ])('%s', (_, text) => {
    const recording = read(text);
    expect(recording.rows).toBe(2);
    expect([...numbersOf(recording, 'time_s')]).toEqual([0, 0.1]);
    expect([...numbersOf(recording, 'current_a')]).toEqual([1.5, -0.002]);
  });

  test('words, optional columns, repeated times', () => {
    const columns: Column[] = [
      ...COLUMNS,
      { name: 'resistor', kind: 'word', words: ['none', 'pos'] },
      { name: 'temperature_c', kind: 'number', optional: true },
    ];
    const recording = read(
      'time_s,current_a,resistor\n0,1,none\n0,2,pos\n',
      { repeatedTimes: true },
      columns,
    );
    expect(wordsOf(recording, 'resistor')).toEqual(['none', 'pos']);
    expect(recording.columns.temperature_c).toBeUndefined();
  });
});

describe('what is wrong is told with file, line, found and expected', () => {
  test('wrong header', () => {
    expect(faults('time_s,current_ma\n0,1\n1,2\n')).toEqual([
      'rec.csv:1  current_a: the header row has no such column: found time_s | current_ma (separator: comma), ' +
        'expected time_s, current_a, separated by comma, semicolon or tab',
    ]);
    expect(faults('time_s,current_a,time_s\n0,1,0\n1,2,1\n')[0]).toMatch(/^rec\.csv:1 {2}time_s: .*twice/);
    expect(faults('0,1\n1,2\n')[0]).toMatch(/^rec\.csv:1 {2}time_s, current_a: .*no such column/);
  });
  test('cells', () => {
    expect(faults('time_s,current_a\n0,1\n1,one\n2,\n3\n4,NaN\n5,1e999\n6,0x10\n')).toEqual([
      'rec.csv:3  current_a: found "one", expected a number',
      'rec.csv:4  current_a: found an empty cell, expected a number',
      'rec.csv:5  current_a: found an empty cell, expected a number',
      'rec.csv:6  current_a: found "NaN", expected a number',
      'rec.csv:7  current_a: found "1e999", expected a finite number',
      'rec.csv:8  current_a: found "0x10", expected a number',
    ]);
    expect(faults('time_s;current_a\n0;1.5\n1;1,5\n')).toEqual([
      'rec.csv:3  current_a: found "1,5", expected the decimal mark "." as in line 2',
    ]);
    const columns: Column[] = [...COLUMNS, { name: 'resistor', kind: 'word', words: ['none', 'pos'] }];
    expect(faults('time_s,current_a,resistor\n0,1,none\n1,1,both\n', {}, columns)).toEqual([
      'rec.csv:3  resistor: found "both", expected one of none, pos',
    ]);
  });
  test('a decimal comma between commas', () => {
    expect(faults('time_s,current_a\n0,1,5\n1,2,5\n')[0]).toMatch(/^rec\.csv:2 {2}found 3 cells, expected 2/);
    expect(faults('time_s;current_a\n0;1;\n1;2;\n')).toEqual([]);
  });
  test('time', () => {
    expect(faults('time_s,current_a\n0,1\n2,1\n1,1\n')).toEqual([
      'rec.csv:4  time_s: found 1 after 2 in line 3, expected time to rise from row to row',
    ]);
    expect(faults('time_s,current_a\n0,1\n0,1\n')).toHaveLength(1);
    expect(faults('time_s,current_a\n0,1\n0,1\n-1,1\n', { repeatedTimes: true })[0]).toMatch(/rise or stand/);
  });
  test('too few, too many, nothing', () => {
    expect(faults('time_s,current_a\n0,1\n', { minRows: 5 })).toEqual([
      'rec.csv:2  found 1 rows, expected at least 5',
    ]);
    expect(faults('time_s,current_a\n0,1\n1,1\n2,1\n', { maxRows: 2 })).toHaveLength(1);
    expect(faults('')).toEqual(['rec.csv  found nothing, expected a header row time_s, current_a']);
  });
  test('never more than ten faults', () => {
    expect(faults(`time_s,current_a\n${'x,y\n'.repeat(1000)}`)).toHaveLength(10);
  });
  test('an open quote does not swallow the file unseen', () => {
    expect(faults('time_s,current_a\n0,"1\n1,2\n2,3\n').length).toBeGreaterThan(0);
  });
});
