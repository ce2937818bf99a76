/**
 * What a person gets wrong with a recording, the same for every command that reads one: exit 2, one message with file,
 * line, what was found and what was expected; no verdict told, no file left, whole or half.
 */
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import type { Command } from 'commander';
import { afterAll, describe, expect, it } from 'vitest';
import { addFit } from '../../src/cli/fit.js';
import { addMeasure } from '../../src/cli/measure.js';
import { linesOf, PLAIN, recordOf } from '../unit/measure/synthetic-cell.js';
import { runHere, type Said } from './in-process.js';
import { endAll, temporaryFolder } from './process.js';

afterAll(endAll);

interface Reader {
  readonly title: string;
  readonly add: (program: Command) => void;
  /** Words before the file. */
  readonly words: readonly string[];
  readonly more?: readonly string[];
  /** A header and rows that are good, and long enough that one may be spoilt. */
  readonly good: readonly string[];
  /** Columns of numbers; the first one is the time, where there is one. */
  readonly numbers: readonly string[];
  /** Fewest rows. */
  readonly least: number;
  readonly time?: { readonly repeated: boolean };
  /** Another reader of the same command has shown what comes after reading. */
  readonly readOnly?: true;
}

const CHARGE = linesOf(
  recordOf(PLAIN, 0.2, [
    [0, 1000],
    [5, 5000],
    [0, 2000],
  ]),
);
const folder = temporaryFolder();
const kept = (name: string, lines: readonly string[]): string => {
  const file = path.join(folder, name);
  writeFileSync(file, `${lines.join('\n')}\n`);
  return file;
};
const GOOD_CHARGE = kept('good.csv', CHARGE);
const RAFT_COLUMNS = ['time_s', 'current_a', 'voltage_v'];

const READERS: readonly Reader[] = [
  {
    title: 'measure loop',
    add: addMeasure,
    words: ['measure', 'loop', '--in'],
    good: [
      'time_s,current_a',
      ...Array.from({ length: 1000 }, (_, k) => {
        const sine = Math.sin((2 * Math.PI * 80 * k) / 4000);
        return `${(k / 4000).toFixed(5)},${(0.0165 * Math.max(0, sine)).toFixed(7)}`;
      }),
    ],
    numbers: ['time_s', 'current_a'],
    least: 40,
    time: { repeated: false },
  },
  {
    title: 'measure isolation',
    add: addMeasure,
    words: ['measure', 'isolation', '--in'],
    good: [
      'time_s,v_pos_v,v_neg_v,resistor',
      ...[0, 1, 2, 3, 4, 5].map((t) => `${t},300.000,450.000,none`),
      ...[6, 7, 8, 9].map((t) => `${t},576.923,173.077,neg`),
    ],
    numbers: ['time_s', 'v_pos_v', 'v_neg_v'],
    least: 8,
    time: { repeated: false },
  },
  {
    title: 'measure precharge',
    add: addMeasure,
    words: ['measure', 'precharge', '--in'],
    good: [
      'time_s,voltage_v',
      ...Array.from(
        { length: 60 },
        (_, k) => `${(k / 20).toFixed(3)},${(750 * -Math.expm1(-k / 10)).toFixed(2)}`,
      ),
    ],
    numbers: ['time_s', 'voltage_v'],
    least: 8,
    time: { repeated: false },
  },
  {
    title: 'fit raft',
    add: addFit,
    words: ['fit', 'raft', '--in'],
    more: ['--out', 'out.yaml'],
    good: CHARGE,
    numbers: RAFT_COLUMNS,
    least: 20,
    time: { repeated: true },
  },
  {
    title: 'fit raft, the second recording',
    readOnly: true,
    add: addFit,
    words: ['fit', 'raft', '--in', GOOD_CHARGE, '--in'],
    more: ['--out', 'out.yaml'],
    good: CHARGE,
    numbers: RAFT_COLUMNS,
    least: 20,
    time: { repeated: true },
  },
  {
    title: 'fit raft, the recording foretold',
    readOnly: true,
    add: addFit,
    words: ['fit', 'raft', '--in', GOOD_CHARGE, '--predict'],
    more: ['--out', 'out.yaml'],
    good: CHARGE,
    numbers: RAFT_COLUMNS,
    least: 20,
    time: { repeated: true },
  },
  {
    title: 'fit raft, the table',
    readOnly: true,
    add: addFit,
    words: ['fit', 'raft', '--in', GOOD_CHARGE, '--ocv'],
    more: ['--out', 'out.yaml'],
    good: ['soc_percent,ocv_mean_v', '0,3.2', '20,3.3', '50,3.6', '70,3.8', '100,4.0'],
    numbers: ['soc_percent', 'ocv_mean_v'],
    least: 3,
  },
];

/** Runs on a file with this content, and sees to it that nothing is told or left but one complaint. */
async function refused(reader: Reader, content: string | Buffer | null, named = 'bad.csv'): Promise<string> {
  const cwd = temporaryFolder();
  const file = path.join(cwd, named);
  if (content !== null) writeFileSync(file, content);
  const before = readdirSync(cwd);
  const inside = (word: string): string => (word === 'out.yaml' ? path.join(cwd, word) : word);
  const ended = await runHere(
    reader.add,
    ...[...reader.words, file, ...(reader.more ?? []).map(inside)],
    ...['--plot', path.join(cwd, 'out.svg')],
  );
  oneComplaint(ended);
  expect(readdirSync(cwd)).toEqual(before);
  return ended.stderr;
}

function oneComplaint({ code, stdout, stderr }: Said): void {
  expect([code, stdout]).toEqual([2, '']);
  expect(stderr).not.toMatch(/^\s+at .*(:\d+|\(.*\))/m);
  expect(stderr).not.toMatch(/undefined|\[object/);
  expect(stderr.trimEnd().split('\n').length).toBeLessThanOrEqual(2);
}

const text = (lines: readonly string[]): string => `${lines.join('\n')}\n`;

describe.each(READERS)('$title', (reader) => {
  const { good, numbers } = reader;
  const header = good[0]!.split(',');
  const last = numbers.at(-1)!;
  const lastAt = header.indexOf(last);
  /** The file with one cell of one line set; line 1 is the header. */
  const withCell = (line: number, at: number, value: string): string =>
    text(good.with(line - 1, good[line - 1]!.split(',').with(at, value).join(',')));
  const withHeader = (names: readonly string[]): string => text(good.with(0, names.join(',')));
  const at = (line: number, rest: string): RegExp => new RegExp(`bad\\.csv:${line} +${rest}`);

  it('a wrong header, a column missing, a unit missing: names what it expected', async () => {
    const wrong = await refused(reader, withHeader(header.map((_, k) => `ch${k}`)));
    expect(wrong).toMatch(at(1, `${numbers[0]}, .*found ch0 \\| ch1.*expected ${numbers.join(', ')}`));
    const short = good.map((line) => line.split(',').toSpliced(lastAt, 1).join(','));
    expect(await refused(reader, text(short))).toMatch(at(1, `${last}: .*no such column.*expected`));
    const unitless = withHeader(header.with(lastAt, last.replace(/_[^_]+$/, '')));
    expect(await refused(reader, unitless)).toMatch(at(1, `${last}: .*no such column.*expected`));
    const twice = text(good.map((line) => `${line},${line.split(',')[lastAt]}`));
    expect(await refused(reader, twice)).toMatch(at(1, `${last}: .*this column twice`));
    const noHeader = await refused(reader, text(good.slice(1)));
    expect(noHeader).toMatch(at(1, '.*the header row has no such column'));
  });

  it.each([
    ['a word', 'abc', 'found "abc", expected a number'],
    ['a number with a unit', '3.3V', 'found "3.3V", expected a number'],
    ['NaN', 'NaN', 'found "NaN", expected a number'],
    ['infinity', 'Infinity', 'found "Infinity", expected a number'],
    ['a number beyond all numbers', '1e999', 'found "1e999", expected a finite number'],
    ['nothing', '', 'found an empty cell, expected a number'],
    ['hexadecimal', '0x10', 'found "0x10", expected a number'],
  ])('%s in any column: line and column', async (_, value, says) => {
    for (const name of numbers)
      expect(await refused(reader, withCell(4, header.indexOf(name), value))).toMatch(
        at(4, `${name}: ${says}`),
      );
  });

  const { time } = reader;
  if (time !== undefined) {
    it('time that falls, or stands where it may not', async () => {
      const times = good.slice(1).map((line) => line.split(',')[0]!);
      expect(await refused(reader, withCell(5, 0, times[1]!))).toMatch(
        at(5, `time_s: found [\\d.e-]+ after [\\d.e-]+ in line 4, expected time to rise`),
      );
      if (time.repeated) return;
      expect(await refused(reader, withCell(5, 0, times[2]!))).toMatch(
        at(5, 'time_s: found [\\d.e-]+ after [\\d.e-]+ in line 4, expected time to rise from row to row'),
      );
    });
  }

  it('too few rows, a header alone, nothing at all', async () => {
    const { least } = reader;
    const few = await refused(reader, text(good.slice(0, least)));
    expect(few).toMatch(at(least, `found ${least - 1} rows, expected at least ${least}`));
    expect(await refused(reader, text(good.slice(0, 1)))).toMatch(/found 0 rows, expected at least/);
    for (const nothing of ['', '\n\n', '\ufeff'])
      expect(await refused(reader, nothing)).toMatch(/found nothing, expected a header row/);
  });

  it('a decimal comma with commas between the cells', async () => {
    const european = good.map((line, k) => (k === 0 ? line : line.replaceAll('.', ',')));
    // Where every value is whole there is nothing to confuse.
    const line = european.findIndex((each) => each.split(',').length > header.length) + 1;
    expect(line).toBeGreaterThan(1);
    const first = european
      .with(1, good[1]!)
      .slice(0, 1)
      .concat(european[line - 1]!, good.slice(2));
    expect(await refused(reader, text(first))).toMatch(
      at(
        2,
        `found \\d+ cells, expected ${header.length} as in the header; with a decimal comma, separate by`,
      ),
    );
    const mixed = good.map((each) => each.replaceAll(',', ';'));
    const spoilt = mixed.findLastIndex((each) => each.includes('.'));
    const mark = text(mixed.with(spoilt, mixed[spoilt]!.replace('.', ',')));
    expect(await refused(reader, mark)).toMatch(
      at(spoilt + 1, '.*expected the decimal mark "\\." as in line'),
    );
  });

  it('bytes that are no text, a file that is not there, a folder, a device', async () => {
    const bytes = Buffer.concat([Buffer.from('\x7fMAT 5.0 ', 'latin1'), Buffer.from([0, 1, 200, 7, 10, 44])]);
    expect(await refused(reader, bytes)).toMatch(at(1, 'found the byte 0x00, expected text: CSV in UTF-8'));
    expect(await refused(reader, Buffer.from(text(good), 'utf16le'))).toMatch(at(1, 'found the byte 0x00'));
    expect(await refused(reader, null)).toMatch(/bad\.csv cannot be read: there is no such file/);
    expect(await refused(reader, null, '.')).toMatch(/cannot be read: it is a folder, not a file/);
    expect(await refused(reader, null, '../../dev/zero')).toMatch(/cannot be read: /);
  });

  if (reader.readOnly) return;

  it('a drawing or a block that cannot be written leaves nothing half-written', async () => {
    const cwd = temporaryFolder();
    mkdirSync(path.join(cwd, 'taken'));
    writeFileSync(path.join(cwd, 'file'), 'kept');
    writeFileSync(path.join(cwd, 'good.csv'), text(good));
    const before = readdirSync(cwd);
    const options = ['--plot', ...(reader.more === undefined ? [] : ['--out'])];
    for (const option of options) {
      for (const [place, says] of [
        ['taken', /taken cannot be used: it is a folder, not a file/],
        ['file/below.svg', /file\S* cannot be used: .*(is a file, not a folder|a file by that name)/],
      ] as const) {
        const args = [...reader.words, path.join(cwd, 'good.csv'), option, path.join(cwd, place)];
        const ended = await runHere(reader.add, ...args);
        oneComplaint(ended);
        expect(ended.stderr).toMatch(says);
        expect(readdirSync(cwd)).toEqual(before);
      }
    }
    expect(readFileSync(path.join(cwd, 'file'), 'utf8')).toBe('kept');
    expect(readdirSync(path.join(cwd, 'taken'))).toEqual([]);
  });

  it('is read when nothing is wrong with it', async () => {
    const file = path.join(temporaryFolder(), 'good.csv');
    writeFileSync(file, text(good));
    expect((await runHere(reader.add, ...reader.words, file)).code).toBe(0);
  });
});
