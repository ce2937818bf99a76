/** `measure loop` as a command: field names, exit codes, faults with their lines, the drawing. */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { addMeasure } from '../../src/cli/measure.js';
import { runHere, type Said } from './in-process.js';
import { endAll, temporaryFolder } from './process.js';

afterAll(endAll);

const measure = (...args: string[]): Promise<Said> => runHere(addMeasure, 'measure', 'loop', ...args);
const folder = temporaryFolder();
const file = (name: string, rows: readonly string[]): string => {
  const full = path.join(folder, name);
  writeFileSync(full, `${rows.join('\n')}\n`);
  return full;
};

/** A half wave by hand: 12 V r.m.s. of 80 Hz, 0.7 V lost, through 1000 Ω and the core; then the leak's sine. */
function wave(options: {
  ohm?: number;
  leakOhm?: number;
  crushed?: boolean;
  sign?: number;
  periods?: number;
}): number[][] {
  const { ohm = 20, leakOhm = Number.POSITIVE_INFINITY, crushed = false, sign = 1, periods = 25 } = options;
  return Array.from({ length: periods * 50 }, (_, k) => {
    const t = k / 4000;
    const v = 12 * Math.SQRT2 * Math.sin(2 * Math.PI * 80 * t);
    // The leak at the charger divides the source's voltage and adds to its resistance.
    const share = leakOhm === Number.POSITIVE_INFINITY ? 1 : leakOhm / (leakOhm + 1000);
    const line = 1000 * share + ohm;
    const far = crushed ? (v * share) / line : Math.max(0, v * share - 0.7) / line;
    return [t, sign * (far * share + (v * (1 - share)) / 1000)];
  });
}
const rowsOf = (points: readonly number[][]): string[] => [
  'time_s,current_a',
  ...points.map(([t, a]) => `${t!.toFixed(6)},${a!.toFixed(7)}`),
];

describe('verdicts', () => {
  it('genuine, with the figures and their uncertainty, whatever the separator and decimal mark', async () => {
    const rows = rowsOf(wave({}));
    const european = rows.map((r, k) =>
      k === 0 ? r.replace(',', ';') : r.replace(',', ';').replaceAll('.', ','),
    );
    for (const each of [rows, european]) {
      const said = await measure('--in', file('sound.csv', each), '--json', '--require', 'genuine');
      expect(said.code).toBe(0);
      const found = JSON.parse(said.stdout) as Record<string, number>;
      expect(found.verdict).toBe('genuine');
      expect(Math.abs(found.seriesOhm! - 20)).toBeLessThan(0.3);
      expect(found.seriesOhmUncertainty).toBeGreaterThan(0);
      expect(found.meanA).toBeCloseTo(0.004958, 4);
      expect(found.asymmetry).toBeCloseTo(1, 2);
      for (const name of ['meanA', 'rmsA', 'asymmetry', 'seriesOhm', 'shuntOhm'])
        expect(found).toHaveProperty(`${name}Uncertainty`);
    }
  });

  it.each([
    ['leaky', wave({ leakOhm: 1000 })],
    ['unclear', wave({ leakOhm: 2000 })],
    ['high-resistance', wave({ ohm: 80 })],
    ['crushed', wave({ crushed: true })],
    ['reversed', wave({ sign: -1 })],
    ['open', wave({}).map(([t]) => [t!, 0])],
  ])('%s', async (verdict, points) => {
    const said = await measure('--in', file(`${verdict}.csv`, rowsOf(points)), '--rig', 'depot-cable');
    expect(said.code).toBe(0);
    expect(said.stdout).toContain(`${verdict}.csv: ${verdict}`);
    expect(said.stdout).toContain('LIVE DC KILLS');
  });

  it('another source than the rig’s', async () => {
    // Half the voltage through half the resistance: as far as the rig knows, far too much current.
    const points = wave({ ohm: 40 }).map(([t, a]) => [t! * 0.8, a!]);
    const args = ['--in', file('other.csv', rowsOf(points)), '--json'];
    const own = await measure(...args, '--frequency-hz', '100');
    expect(JSON.parse(own.stdout)).toMatchObject({ verdict: 'genuine' });
    const source = await measure(...args, '--frequency-hz', '100', '--source-ohm', '1020');
    expect((JSON.parse(source.stdout) as { seriesOhm: number }).seriesOhm).toBeCloseTo(20, 0);
    const volts = await measure(...args, '--frequency-hz', '100', '--source-vrms', '13');
    expect(JSON.parse(volts.stdout)).toMatchObject({ verdict: 'high-resistance' });
  });

  it('a required verdict that was not found exits 7', async () => {
    const said = await measure('--in', file('sound.csv', rowsOf(wave({}))), '--require', 'open');
    expect(said.code).toBe(7);
    expect(said.stderr).toContain('required verdict open, found genuine');
  });
});

describe('bad input exits 2 and says where', () => {
  const rows = rowsOf(wave({}));
  it.each([
    [
      'a wrong header',
      ['time_s,current_ma', ...rows.slice(1)],
      /bad\.csv:1 {2}current_a: .*expected time_s, current_a/,
    ],
    [
      'a cell that is no number',
      rows.with(9, '0.002,one'),
      /bad\.csv:10 {2}current_a: found "one", expected a number/,
    ],
    ['NaN', rows.with(9, '0.002,NaN'), /bad\.csv:10 {2}current_a: found "NaN"/],
    [
      'unsorted time',
      [...rows.slice(0, 20), rows[10]!, ...rows.slice(20)],
      /bad\.csv:21 {2}time_s: .*expected time to rise/,
    ],
    ['too few points', rows.slice(0, 20), /bad\.csv:20 {2}found 19 rows, expected at least 40/],
    ['too few periods', rows.slice(0, 150), /too few points: found 3\.0 periods .*expected at least 5/],
    [
      'too coarse',
      rows.filter((_, k) => k === 0 || k % 10 === 1),
      /too few points: found 5\.0 a period .*at least 8/,
    ],
  ])('%s', async (_, bad, says) => {
    const said = await measure('--in', file('bad.csv', bad));
    expect(said.code).toBe(2);
    expect(said.stderr).toMatch(says);
  });
  it('no such file, and a rig without a pilot loop', async () => {
    expect((await measure('--in', path.join(folder, 'none.csv'))).stderr).toContain('there is no such file');
    const shoes = await measure('--in', file('sound.csv', rows), '--rig', 'terminus-shoes');
    expect(shoes.code).toBe(2);
    expect(shoes.stderr).toContain('has no pilot loop');
  });
});

it('draws recording and fitted loop', async () => {
  const svg = path.join(folder, 'loop.svg');
  const said = await measure('--in', file('sound.csv', rowsOf(wave({}))), '--plot', svg);
  expect(said.code).toBe(0);
  expect(existsSync(svg)).toBe(true);
  const drawn = readFileSync(svg, 'utf8');
  expect(drawn).toContain('<svg');
  expect(drawn).toContain('fitted loop, without pick-up');
});
