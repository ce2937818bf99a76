/** Options of the measuring commands that cannot be meant: exit 2, the option, what was given, what was expected. */
import { readdirSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { ISOLATION_VERDICTS } from '../../src/checks/isolation-verdict.js';
import { addFit } from '../../src/cli/fit.js';
import { addMeasure } from '../../src/cli/measure.js';
import { runHere } from './in-process.js';
import { endAll, temporaryFolder } from './process.js';

afterAll(endAll);

const CABLE = {
  '--mm2': '95',
  '--length-m': '20',
  '--current-a': '300',
  '--ambient-c': '30',
} as const;
/** A good cable but for one option; null leaves it out. */
const cable = (option: string, value: string | null): string[] => [
  'cable',
  ...Object.entries({ ...CABLE, [option]: value }).flatMap(([o, v]) => (v === null ? [] : [o, v])),
];
const onFile = (command: string, option: string, value: string): string[] => [
  ...[command, '--in', 'r.csv'],
  ...[option, value],
];
const above = (unit: string): RegExp => new RegExp(`${unit} above 0, from 1e-15 to 1000000000000`);
const VERDICTS = /expected one of/;

const MEASURE: readonly (readonly [args: readonly string[], says: RegExp])[] = [
  ...['0', '-12', 'abc', 'NaN', 'Infinity', '1e13', ''].flatMap((value) => [
    [onFile('loop', '--source-vrms', value), above('volts')] as const,
    [onFile('loop', '--source-ohm', value), above('ohms')] as const,
    [onFile('loop', '--frequency-hz', value), above('hertz')] as const,
    [onFile('isolation', '--known-ohm', value), above('ohms')] as const,
    [onFile('isolation', '--meter-ohm', value), above('ohms')] as const,
    [onFile('precharge', '--supply-v', value), above('volts')] as const,
    [onFile('precharge', '--resistor-ohm', value), above('ohms')] as const,
    [onFile('precharge', '--capacitance-f', value), above('farads')] as const,
    [cable('--length-m', value), above('metres')] as const,
    [cable('--current-a', value), above('amperes')] as const,
  ]),
  ...['loop', 'isolation', 'precharge'].map(
    (command) => [onFile(command, '--require', 'fine'), VERDICTS] as const,
  ),
  [[...cable('--mm2', '95'), '--require', 'fine'], VERDICTS],
  [onFile('isolation', '--require', ''), new RegExp(ISOLATION_VERDICTS.join(', '))],
  [cable('--mm2', '96'), /--mm2.*'96'.*expected one of 35, 50, 70/],
  [cable('--mm2', '-95'), /expected one of 35, 50, 70/],
  [cable('--ambient-c', 'warm'), /'warm'.*degrees Celsius from -60 to 120/],
  [cable('--ambient-c', '121'), /'121'.*degrees Celsius from -60 to 120/],
  [cable('--cores-per-pole', '3'), /'3'.*expected 1 or 2/],
  [cable('--insulation', 'paper'), /'paper'.*expected one of/],
  [cable('--drum-layers', '5'), /'5'.*a whole number from 0 to 4/],
  [cable('--drum-layers', '1.5'), /'1\.5'.*a whole number/],
  ...(['--mm2', '--length-m', '--current-a', '--ambient-c'] as const).map(
    (option) => [cable(option, null), new RegExp(`required option '${option}`)] as const,
  ),
  ...['loop', 'isolation', 'precharge'].map((command) => [[command], /required option '--in/] as const),
  ...['loop', 'isolation', 'precharge'].map(
    (command) => [onFile(command, '--rig', 'no-such-rig'), /no rig named no-such-rig/] as const,
  ),
  ...['loop', 'isolation', 'precharge'].map(
    (command) => [onFile(command, '--fast', '1'), /unknown option '--fast'/] as const,
  ),
  [[...cable('--mm2', '95'), '--fast'], /unknown option '--fast'/],
  [['frobnicate'], /unknown command 'frobnicate'/],
];

const RAFT: readonly (readonly [args: readonly string[], says: RegExp])[] = [
  ...['0', '-5', 'abc', 'NaN', '1e13'].map(
    (value) => [onFile('raft', '--capacity-ah', value), above('ampere hours')] as const,
  ),
  ...['--soc-start', '--predict-soc-start'].flatMap((option) =>
    ['1.1', '-0.1', '80 %', 'NaN'].map(
      (value) => [onFile('raft', option, value), /expected a share from 0 to 1/] as const,
    ),
  ),
  ...['--cell-c', '--predict-cell-c'].flatMap((option) =>
    ['121', '-61', 'warm'].map(
      (value) => [onFile('raft', option, value), /degrees Celsius from -60 to 120/] as const,
    ),
  ),
  ...['--series-cells', '--parallel-cells'].flatMap((option) => [
    [onFile('raft', option, '0'), /expected a whole number from 1/] as const,
    [onFile('raft', option, '1.5'), /expected a whole number/] as const,
  ]),
  [onFile('raft', '--require', 'fine'), VERDICTS],
  [['raft'], /required option '--in/],
  [onFile('raft', '--fast', '1'), /unknown option '--fast'/],
  [
    Array.from({ length: 13 }, () => ['--in', 'r.csv'])
      .flat()
      .toSpliced(0, 0, 'raft'),
    /given 13 times.*at most 12/,
  ],
];

describe.each([
  ['measure', addMeasure, MEASURE],
  ['fit', addFit, RAFT],
] as const)('%s', (word, add, table) => {
  it.each(table)('%j', async (args, says) => {
    const cwd = temporaryFolder();
    // Were the option let through, there would be something to read, and it would be told of instead.
    const file = path.join(cwd, 'r.csv');
    writeFileSync(file, 'time_s\n');
    const ended = await runHere(add, word, ...args.map((each) => (each === 'r.csv' ? file : each)));
    expect([ended.code, ended.stdout]).toEqual([2, '']);
    expect(ended.stderr).toMatch(says);
    expect(ended.stderr.trimEnd().split('\n')).toHaveLength(1);
    expect(readdirSync(cwd)).toEqual(['r.csv']);
  });
});
