/** A stop planned on the command line, taken up by a session, and seen beside it in the audit. */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { endAll, loopwarden, ROOT, temporaryFolder } from './process.js';

afterAll(endAll);
const TIMEOUT = 60_000;
const STOP = ['plan', 'stop', '--rig', 'depot-cable', '--soc-from', '0.5', '--dwell', '3min'];
const CELLS = ['--cell-c', '22', '--ambient-c', '20'];

describe('plan stop', () => {
  it('says yes with exit 0, draws it, and its session keeps to it', { timeout: TIMEOUT }, async () => {
    const folder = temporaryFolder();
    const [plot, plan, out] = ['stop.svg', 'plan.json', 'run'].map((name) => path.join(folder, name)) as [
      string,
      string,
      string,
    ];
    const planned = await loopwarden([
      ...STOP,
      ...CELLS,
      '--energy-kwh',
      '3',
      '--plot',
      plot,
      '--out',
      plan,
      '--json',
    ]);
    expect(planned).toMatchObject({ code: 0, stderr: '' });
    const told = JSON.parse(planned.stdout);
    expect(told).toMatchObject({ feasible: true, remedies: [], endReason: 'target' });
    expect(told.leastDwellS).toBeLessThan(180);
    const svg = readFileSync(plot, 'utf8');
    expect(svg).toMatch(/LIVE DC KILLS/);
    for (const name of ['connection rating', 'hottest cell', 'energy', 'from the supply'])
      expect(svg).toContain(name);
    const ran = await loopwarden(['dry-run', '--scenario', 'clean', '--plan', plan, '--out', out, '--json']);
    expect(ran.code).toBe(0);
    const audited = await loopwarden(['audit', JSON.parse(ran.stdout).journal, '--json']);
    expect(audited.code).toBe(0);
    const beside = JSON.parse(audited.stdout).planned;
    expect(beside.map((p: { name: string }) => p.name)).toEqual(['energyKwh', 'socEnd', 'durationS']);
    for (const p of beside) expect(p).toMatchObject({ within: true });
  });

  it('says no with exit 7, by how much, and what would do it', { timeout: TIMEOUT }, async () => {
    const { code, stdout } = await loopwarden([...STOP, ...CELLS, '--energy-kwh', '15', '--json']);
    expect(code).toBe(7);
    const { feasible, shortKwh, remedies, leastDwellS } = JSON.parse(stdout);
    expect(feasible).toBe(false);
    expect(shortKwh).toBeGreaterThan(3);
    const changes = remedies.map((r: { change: string }) => r.change);
    expect(changes).toEqual(expect.arrayContaining(['dwell', 'charger-current']));
    expect(remedies[0].value).toBe(Math.ceil(leastDwellS));
  });

  it.each([
    [['--soc-to', '0.6', '--dwell', '3'], /--dwell.*a time with its unit/],
    [['--soc-to', '0.99'], /above the ceiling/],
    [[], /give either --soc-to or --energy-kwh/],
    [['--energy-kwh', '3', '--plot', '/dev/null/all.svg'], /\/dev\/null/],
  ])('refuses %j in one message', { timeout: TIMEOUT }, async (more, text) => {
    const { code, stderr } = await loopwarden([...STOP, ...CELLS, ...more]);
    expect(code).toBe(2);
    expect(stderr).toMatch(text);
    expect(stderr).not.toMatch(/^\s+at /m);
  });
});

describe('a session with a plan', () => {
  it('takes up no other rig’s, and nothing that is no plan; nothing is run', {
    timeout: TIMEOUT,
  }, async () => {
    const folder = temporaryFolder();
    const plan = path.join(folder, 'plan.json');
    await loopwarden([...STOP, ...CELLS, '--energy-kwh', '1', '--out', plan]);
    const bad = path.join(folder, 'bad.json');
    writeFileSync(bad, '{"plan":"stop"}');
    const out = path.join(folder, 'run');
    const asked: [string[], RegExp][] = [
      [['--scenario', 'clean-shoes', '--plan', plan], /made for rig depot-cable, not for terminus-shoes/],
      [['--plan', bad], /this is no plan of a stop/],
      [['--plan', path.join(folder, 'none.json')], /cannot be read/],
    ];
    for (const [more, text] of asked) {
      const ended = await loopwarden(['dry-run', ...more, '--out', out]);
      expect(ended.code).toBe(2);
      expect(ended.stderr).toMatch(text);
    }
    expect(existsSync(out)).toBe(false);
  });
});

const DAY = ['plan', 'day', '--rig', 'terminus-shoes', '--rig', 'depot-cable', '--store', 'ellary-store'];
const TARIFF = ['--tariff', 'rural-two-peaks', '--draws', '0'];

describe('plan day', () => {
  it('plans the shipped one', { timeout: TIMEOUT }, async () => {
    const day = await loopwarden([...DAY, ...TARIFF, '--timetable', 'ellary-weekday', '--json']);
    expect(day).toMatchObject({ code: 0, stderr: '' });
    expect(JSON.parse(day.stdout)).toBeTypeOf('object');
  });

  it('tells every fault of a timetable at once, with its line', { timeout: TIMEOUT }, async () => {
    const shipped = readFileSync(path.join(ROOT, 'config/timetables/ellary-weekday.yaml'), 'utf8');
    const bad = path.join(temporaryFolder(), 'bad.yaml');
    writeFileSync(bad, `${shipped.replace('terminus-shoes', 'no-such-rig')}\nnonsense: 3\n`);
    const { code, stderr } = await loopwarden([...DAY, ...TARIFF, '--timetable', bad]);
    expect(code).toBe(2);
    expect(stderr).toMatch(/no-such-rig/);
    expect(stderr).toMatch(/nonsense/);
    expect(stderr.match(/bad\.yaml:\d+/g)?.length).toBeGreaterThan(1);
    expect(stderr).not.toMatch(/^\s+at /m);
  });
});
