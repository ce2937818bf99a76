/** `measure isolation`, `precharge` and `cable` as commands: field names, exit codes, faults with their lines. */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { addMeasure } from '../../src/cli/measure.js';
import { runHere, type Said } from './in-process.js';
import { endAll, loopwarden, temporaryFolder } from './process.js';

afterAll(endAll);

const measure = (...args: string[]): Promise<Said> => runHere(addMeasure, 'measure', ...args);
const objectOf = <T>({ stdout }: Said): T => JSON.parse(stdout) as T;

/** W1, at rest: 300 V and 450 V; 576.923 V and 173.077 V with 75 kΩ on the negative pole. */
const W1 = [
  'time_s,v_pos_v,v_neg_v,resistor',
  ...[0, 1, 2, 3].map((t) => `${t},300.000,450.000,none`),
  ...[4, 5, 6, 7].map((t) => `${t},576.923,173.077,neg`),
];
const W7 = [
  'time_s;voltage_v',
  ...Array.from({ length: 120 }, (_, k) => {
    const t = k / 40;
    const v = 750 * (1 - Math.exp(-t / 0.5));
    return `${t.toFixed(3)};${v.toFixed(2)}`.replaceAll('.', ',');
  }),
];

function recordOf(lines: readonly string[]): string {
  const file = path.join(temporaryFolder(), 'r.csv');
  writeFileSync(file, `${lines.join('\n')}\n`);
  return file;
}
const isolation = (lines: readonly string[], ...args: string[]) =>
  measure('isolation', '--in', recordOf(lines), '--rig', 'depot-cable', ...args);
const precharge = (lines: readonly string[], ...args: string[]) =>
  measure('precharge', '--in', recordOf(lines), '--rig', 'yard-precharge', ...args);
const CABLE = ['cable', '--mm2', '95', '--length-m', '20', '--current-a', '300'];

describe('measure isolation', () => {
  it('gives the figures of W1 under the agreed names', async () => {
    const found = objectOf<Record<string, number | string | null>>(
      await isolation(W1, '--known-ohm', '75000', '--meter-ohm', '1e12', '--json'),
    );
    expect(found.verdict).toBe('warn');
    expect(Number(found.positiveOhm) / 200e3).toBeCloseTo(1, 3);
    expect(Number(found.negativeOhm) / 300e3).toBeCloseTo(1, 3);
    expect(Number(found.parallelOhm) / 120e3).toBeCloseTo(1, 3);
    expect(Number(found.ohmPerVolt)).toBeCloseTo(266.7, 0);
    for (const name of ['positiveOhm', 'negativeOhm', 'parallelOhm', 'ohmPerVolt'])
      expect(found[`${name}Uncertainty`]).toBeGreaterThan(0);
    // Figures at rest hold no curve: no capacitance, but a bound.
    for (const name of ['positiveFarad', 'negativeFarad', 'storedJ']) expect(found[name]).toBeNull();
    expect(found.storedJAtMost).toBeGreaterThan(0);
    // IEC 60204-1 6.2.4 exempts 60 µC; nothing here proves that it is no more.
    expect(found.storedAtWorkingCAtMost).toBeGreaterThan(60e-6);
    expect(found.needsDischarge).toBe(true);
  });
  it('exits 7 on another verdict than the required one, 0 otherwise', async () => {
    expect((await isolation(W1, '--require', 'warn')).code).toBe(0);
    const other = await isolation(W1, '--require', 'ok');
    expect([other.code, other.stderr]).toEqual([7, 'required verdict ok, found warn\n']);
  });
  it.each([
    ['a wrong header', W1.with(0, 'time_s,v_pos,v_neg_v,resistor'), /r\.csv:1 +v_pos_v: .*expected time_s/],
    [
      'a cell that is no number',
      W1.with(3, '2,300.000,abc,none'),
      /r\.csv:4 +v_neg_v: found "abc", expected/,
    ],
    ['a NaN', W1.with(3, '2,NaN,450,none'), /r\.csv:4 +v_pos_v: found "NaN", expected a number/],
    ['time that falls', W1.with(3, '0.5,300,450,none'), /r\.csv:4 +time_s: found 0.5 after 1/],
    ['an unknown position', W1.with(3, '2,300.000,450.000,both'), /r\.csv:4 +resistor: .*none, pos, neg/],
    ['too few rows', W1.slice(0, 4), /r\.csv:4 +found 3 rows, expected at least 8/],
    ['one position only', W1.map((l) => l.replace(/,neg$/, ',none')), /only none/],
  ])('refuses %s', async (_, lines, pattern) => {
    const ended = await isolation(lines);
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(pattern);
    expect(ended.stdout).toBe('');
  });
});

describe('measure precharge', () => {
  it('gives W7 from a record with decimal commas', async () => {
    const found = objectOf<Record<string, number | string>>(
      await precharge(W7, '--supply-v', '750', '--json', '--require', 'ok'),
    );
    expect(found.verdict).toBe('ok');
    expect(Number(found.tauS)).toBeCloseTo(0.5, 3);
    expect(Number(found.finalV)).toBeCloseTo(750, 0);
    expect(found.tauSUncertainty).toBeGreaterThan(0);
  });
  it('takes the command line before the rig', async () => {
    const half = await precharge(W7, '--resistor-ohm', '50', '--capacitance-f', '0.005', '--json');
    expect(objectOf<{ verdict: string }>(half).verdict).toBe('slow');
    const far = await precharge(W7, '--resistor-ohm', '2000', '--json');
    expect(objectOf<{ verdict: string }>(far).verdict).toBe('shorted');
  });
  it('needs a resistor from somewhere', async () => {
    const ended = await precharge(W7, '--rig', 'depot-cable');
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(/depot-cable\.yaml has no pre-charge: expected --resistor-ohm/);
  });
  it('draws', async () => {
    const svg = path.join(temporaryFolder(), 'out.svg');
    expect((await precharge(W7, '--plot', svg)).code).toBe(0);
    expect(existsSync(svg)).toBe(true);
    expect(readFileSync(svg, 'utf8')).toMatch(/^<svg.*Pre-charge: ok/s);
  });
});

describe('measure cable', () => {
  it('gives every figure with its source', async () => {
    const args = [...CABLE, '--ambient-c', '50', '--cores-per-pole', '1', '--json', '--require', 'ok'];
    const ended = await measure(...args);
    const found = objectOf<Record<string, number> & { sources: Record<string, string> }>(ended);
    expect(ended.code).toBe(0);
    expect(found.permittedA).toBeCloseTo(302.6, 1);
    for (const name of ['resistanceOhm', 'dropV', 'lossW', 'steadyC', 'permittedA', 'faultWithstandA2s']) {
      expect(found[name]).toBeGreaterThan(0);
      expect(found.sources[name]).toBeTruthy();
    }
  });
  it('refuses what no table has', async () => {
    const args = ['cable', '--mm2', '96', '--length-m', '20', '--current-a', '1', '--ambient-c', '1'];
    const ended = await measure(...args);
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(/--mm2.*96.*expected one of 35, 50, 70, 95/);
  });
  it('exits 7 when overloaded and another verdict is required', async () => {
    expect((await measure(...[...CABLE, '--ambient-c', '55', '--require', 'ok'])).code).toBe(7);
  });
});

it('as a process: exit 7 on a verdict not required, exit 2 with file and line', {
  timeout: 120_000,
}, async () => {
  const args = ['measure', 'isolation', '--rig', 'depot-cable', '--in'];
  const other = await loopwarden([...args, recordOf(W1), '--require', 'ok']);
  expect([other.code, other.stderr]).toEqual([7, 'required verdict ok, found warn\n']);
  const bad = await loopwarden([...args, recordOf(W1.with(3, '2,300.000,abc,none'))]);
  expect(bad.code).toBe(2);
  expect(bad.stderr).toMatch(/r\.csv:4 +v_neg_v: found "abc", expected a number\n$/);
});
