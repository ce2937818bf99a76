/** `fit raft` as a command: field names, the block it writes, exit codes, faults with their lines. */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { addFit } from '../../src/cli/fit.js';
import { loadRig } from '../../src/rig/load.js';
import { linesOf, PLAIN, recordOf } from '../unit/measure/synthetic-cell.js';
import { runHere, type Said } from './in-process.js';
import { endAll, temporaryFolder } from './process.js';

afterAll(endAll);

const fitRaft = (...args: string[]): Promise<Said> => runHere(addFit, 'fit', 'raft', ...args);

/** Rest, charge, rest. */
const recorded = (amps = 5): string[] =>
  linesOf(
    recordOf(PLAIN, 0.2, [
      [0, 1000],
      [amps, 5000],
      [0, 2000],
    ]),
  );
const GOOD = recorded();
const fileOf = (name: string, lines: readonly string[]): string => {
  const file = path.join(temporaryFolder(), name);
  writeFileSync(file, `${lines.join('\n')}\n`);
  return file;
};
const OCV = ['soc_percent,ocv_mean_v', '0,3.2', '50,3.6', '100,4.0'];
const KNOWN = ['--capacity-ah', '10', '--soc-start', '0.2'];

describe('fit raft', () => {
  it('gives the circuit under the agreed names', async () => {
    const ended = await fitRaft(
      '--in',
      fileOf('r.csv', GOOD),
      '--ocv',
      fileOf('o.csv', OCV),
      ...KNOWN,
      '--json',
    );
    expect(ended.code).toBe(0);
    const found = JSON.parse(ended.stdout) as Record<string, unknown>;
    expect(found.capacityAh).toBe(10);
    expect(found.socStart).toBe(0.2);
    for (const name of ['r0Ohm', 'r1Ohm', 'r2Ohm', 'tau1S', 'tau2S', 'fitRmsV'])
      expect(found[name]).toBeTypeOf('number');
    for (const name of ['r0Ohm', 'r1Ohm', 'r2Ohm']) expect(found[`${name}Uncertainty`]).toBeGreaterThan(0);
    expect(found.fitRmsV).toBeLessThan(0.003);
    expect(found.ocvV).toBeCloseTo(3.6, 1);
    expect(found.overSoc).toHaveLength(11);
    expect(found).not.toHaveProperty('predictionRmsV');
  });

  it('foretells another recording and says what was measured beside it', async () => {
    const ended = await fitRaft(
      ...['--in', fileOf('r.csv', GOOD), '--predict', fileOf('p.csv', recorded(4)), ...KNOWN],
      ...['--predict-soc-start', '0.2', '--json', '--require', 'good'],
    );
    expect(ended.code).toBe(0);
    const found = JSON.parse(ended.stdout) as Record<string, number | null>;
    expect(found.predictSocStart).toBe(0.2);
    expect(found.predictionRmsV).toBeLessThan(0.01);
    expect(found.predictionChargeRmsV).toBeLessThan(0.01);
    // This charge ends before a voltage is held.
    for (const name of ['ccTimeS', 'measuredCcTimeS', 'chargeAh', 'measuredChargeAh'])
      expect(found[name]).toBeNull();
  });

  it('writes a block that makes a rig', async () => {
    const out = path.join(temporaryFolder(), 'fitted.yaml');
    const plot = path.join(temporaryFolder(), 'fitted.svg');
    const ended = await fitRaft(
      ...['--in', fileOf('r.csv', GOOD), '--ocv', fileOf('o.csv', OCV), ...KNOWN],
      ...['--out', out, '--rig', 'depot-cable', '--plot', plot],
    );
    expect(ended.code).toBe(0);
    expect(ended.stdout).toContain('LIVE DC KILLS');
    expect(readFileSync(out, 'utf8')).toMatch(/LIVE DC KILLS/);
    expect(readFileSync(plot, 'utf8')).toMatch(/^<svg/);
    const { cell } = loadRig(out).rig.battery.raft;
    expect(cell.capacityAh).toBe(10);
    expect(cell.overSoc?.length).toBeGreaterThan(5);
    expect(cell.r0Ohm).toBeGreaterThan(0.01);
    expect(cell.r0Ohm).toBeLessThan(0.04);
  });

  it('takes several recordings, each with its own temperature and beginning', async () => {
    const cold = linesOf(
      recordOf({ ...PLAIN, r0Ohm: 0.03, r1Ohm: 0.013 }, 0.3, [
        [0, 1000],
        [4, 5000],
        [0, 2000],
      ]),
    ).map((line) => line.replace(/,[^,]*$/, ''));
    const files = ['--in', fileOf('warm.csv', GOOD), '--in', fileOf('cold.csv', cold)];
    const common = [...files, '--capacity-ah', '10', '--soc-start', '0.2', '--soc-start', '0.3'];
    const ended = await fitRaft(...common, '--cell-c', '25', '--cell-c', '5', '--json');
    expect(ended.code).toBe(0);
    const found = JSON.parse(ended.stdout) as Record<string, unknown>;
    expect(found.activationFitted).toBe(true);
    for (const name of ['r0', 'r1', 'r2'])
      expect(found[`${name}ActivationJPerMolUncertainty`]).toBeGreaterThan(0);
    expect(found.r0ActivationJPerMol).toBeGreaterThan(30_000);
    expect(found.recordings).toMatchObject([
      { file: 'warm.csv', cellC: 25, temperature: 'logged', socStart: 0.2 },
      { file: 'cold.csv', cellC: 5, temperature: 'told' },
    ]);
    // Without a word the cold one counts as warm as any, which is said.
    const untold = await fitRaft(...common, '--predict', fileOf('again.csv', cold));
    expect(untold.stdout).toMatch(
      /No temperature was logged in cold\.csv: taken as 25 °C; tell it by --cell-c/,
    );
    expect(untold.stdout).toMatch(/No temperature was logged in again\.csv: .*--predict-cell-c/);
    expect(untold.stdout).toMatch(/activation energy, not found but typical/);
  });

  it.each([
    [
      'a temperature for one of two',
      ['--cell-c', '10'],
      /--cell-c was given 1 time, expected once for each of/,
    ],
    [
      'three beginnings',
      ['0.1', '0.2', '0.3'].flatMap((s) => ['--soc-start', s]),
      /--soc-start was given 3 times/,
    ],
  ])('refuses %s', async (_, args, pattern) => {
    const file = fileOf('r.csv', GOOD);
    const ended = await fitRaft('--in', file, '--in', file, ...args);
    expect([ended.code, ended.stdout]).toEqual([2, '']);
    expect(ended.stderr).toMatch(pattern);
  });

  it('exits 7 on another verdict than the required one', async () => {
    const ended = await fitRaft('--in', fileOf('r.csv', GOOD), ...KNOWN, '--require', 'poor');
    expect(ended.code).toBe(7);
    expect(ended.stderr).toMatch(/required verdict poor, found/);
  });

  it.each([
    [
      'a wrong header',
      GOOD.with(0, 'time_s,amps,voltage_v,cell_degc'),
      /r\.csv:1 +current_a: .*expected time_s/,
    ],
    [
      'a cell that is no number',
      GOOD.with(3, '40,0,abc,25'),
      /r\.csv:4 +voltage_v: found "abc", expected a number/,
    ],
    ['a NaN', GOOD.with(3, '40,NaN,3.36,25'), /r\.csv:4 +current_a: found "NaN", expected a number/],
    ['a temperature that is none', GOOD.with(3, '40,0,3.36,'), /r\.csv:4 +cell_degc: found an empty cell/],
    ['time that falls', GOOD.with(3, '10,0,3.36,25'), /r\.csv:4 +time_s: found 10 after 20/],
    ['too few rows', GOOD.slice(0, 11), /r\.csv:11 +found 10 rows, expected at least 20/],
    ['a record without a current', recorded(0), /r\.csv +current_a: no current flows, expected a charge/],
  ])('refuses %s', async (_, lines, pattern) => {
    const ended = await fitRaft('--in', fileOf('r.csv', lines), ...KNOWN);
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(pattern);
    expect(ended.stdout).toBe('');
  });

  it.each([
    ['a wrong header', OCV.with(0, 'soc,ocv_mean_v'), /o\.csv:1 +soc_percent: .*expected soc_percent/],
    ['a charge above 100 %', OCV.with(3, '101,4.0'), /o\.csv:4 +soc_percent: found 101, expected 0 to 100/],
    ['a charge twice', OCV.with(2, '0,3.6'), /o\.csv:3 +soc_percent: found 0, expected more than the 0/],
    ['too few points', OCV.slice(0, 3), /o\.csv:3 +found 2 rows, expected at least 3/],
  ])('refuses a table with %s', async (_, lines, pattern) => {
    const ended = await fitRaft('--in', fileOf('r.csv', GOOD), '--ocv', fileOf('o.csv', lines));
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(pattern);
  });

  it('refuses a file that is not there, and a predicted one with a fault', async () => {
    const missing = await fitRaft('--in', path.join(temporaryFolder(), 'none.csv'));
    expect([missing.code, missing.stderr]).toEqual([2, expect.stringMatching(/there is no such file/)]);
    const bad = fileOf('p.csv', GOOD.with(5, 'x,0,3.3,25'));
    const ended = await fitRaft('--in', fileOf('r.csv', GOOD), '--predict', bad);
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(/p\.csv:6 +time_s: found "x"/);
  });

  it('leaves nothing behind when it refuses', async () => {
    const out = path.join(temporaryFolder(), 'never.yaml');
    await fitRaft('--in', fileOf('r.csv', GOOD.slice(0, 5)), '--out', out);
    expect(existsSync(out)).toBe(false);
  });
});
