/**
 * Many journals: summary figures against sums made here by hand, tables against the lines they come from, and what
 * a question in SQL must not be able to do.
 */
import { existsSync, mkdirSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addJournals } from '../../src/cli/journals.js';
import type { FleetSummary } from '../../src/fleet/summary.js';
import { TABLE_NAMES } from '../../src/fleet/tables.js';
import { changed, countsOf, type Made, madeJournal, recordsOf } from '../unit/fleet/build.js';
import { linesOf } from '../unit/journal/build.js';
import { runHere } from './in-process.js';
import { endAll, loopwarden, objectOf, temporaryFolder } from './process.js';

afterAll(endAll);

const WEEK_MS = 7 * 24 * 3_600_000;
const BEGAN_MS = Date.UTC(2031, 0, 20, 6);
/** A core that gets worse, as a corroding contact does. */
const OHM_PER_WEEK = 1.5;
const WEEKS = 6;
const HOSTILE = '../../evil';

const folder = path.join(temporaryFolder(), 'journals');
const sound: Made[] = [];
const put = (name: string, text: string): void => {
  const file = path.join(folder, name);
  mkdirSync(path.dirname(file), { recursive: true });
  writeFileSync(file, text);
};
const keep = (name: string, made: Made): Made => {
  put(name, made.text);
  sound.push(made);
  return made;
};

beforeAll(async () => {
  for (let week = 0; week < WEEKS; week++) {
    const wallMs = BEGAN_MS + week * WEEK_MS;
    const common = { base: 'depot-cable', wallMs };
    const set = { 'pilot.coreOhm': 3 + OHM_PER_WEEK * week };
    keep(`worn/${week}.ndjson`, await madeJournal({ ...common, set, seed: week, rig: 'worn' }));
    keep(`steady/deep/${week}.ndjson`, await madeJournal({ ...common, seed: 100 + week, rig: 'steady' }));
  }
  const shoes = { base: 'terminus-shoes', rig: HOSTILE, wallMs: BEGAN_MS };
  keep('shoes/a.ndjson', await madeJournal({ ...shoes, seed: 1, fault: 'supply-breaker-opens' }));
  keep('shoes/b.ndjson', await madeJournal({ ...shoes, seed: 2, latched: true }));
}, 240_000);

const sum = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0);
const tally = (names: readonly string[]): Record<string, number> => {
  const counts: Record<string, number> = {};
  for (const name of names) counts[name] = (counts[name] ?? 0) + 1;
  return counts;
};

describe('a summary', () => {
  it('adds up what the sessions told, and finds the drift that was put in and no other', async () => {
    const plot = path.join(temporaryFolder(), 'drift.svg');
    const ended = await loopwarden(['journals', 'summary', folder, '--json', '--plot', plot]);
    expect(ended.code, ended.stderr).toBe(0);
    const all = objectOf<FleetSummary>(ended);
    const outcomes = sound.map(({ outcome }) => outcome);
    expect(all.sessions).toBe(sound.length);
    expect(all.rows).toEqual({ clean: sound.length });
    expect(all.energy.toldKwh).toBeCloseTo(sum(outcomes.map((o) => o.energyToBatteryKwh)), 9);
    expect(all.energy.toBatteryKwh).toBeCloseTo(all.energy.toldKwh, 3);
    expect(all.outcomes).toEqual(tally(outcomes.map((o) => o.outcome)));
    expect(all.trips).toEqual(tally(outcomes.flatMap((o) => o.trip?.code ?? [])));
    expect(Object.keys(all.trips)).toHaveLength(1);
    expect(all.refusals).toEqual(tally(outcomes.flatMap((o) => o.refusals.map((r) => r.code))));
    expect(all.refusals.latched).toBe(1);
    // The least cell of any raft of any session, and where.
    const cells = sound.flatMap(({ text }) =>
      [1, 2, 3, 4, 5, 6].flatMap((raft) => countsOf(text, `r${raft}`).map((c) => (c[6] ?? 0) * 0.001)),
    );
    const nearest = all.nearest.find(({ what }) => /cellMaxV/.test(what));
    expect(nearest?.reading).toBeCloseTo(Math.max(...cells), 9);
    // 4.2 V in both rigs.
    expect(nearest?.left).toBeCloseTo((4.2 - Math.max(...cells)) / 4.2, 9);

    const drifts = (rig: string) => all.rigs.find((r) => r.rig === rig)?.drifts ?? [];
    const worn = drifts('worn').find(({ figure }) => figure === 'loopSeries');
    expect(worn?.trend?.clear).toBe(true);
    expect(worn?.trend?.slopePerWeek).toBeGreaterThan(OHM_PER_WEEK - 0.15);
    expect(worn?.trend?.slopePerWeek).toBeLessThan(OHM_PER_WEEK + 0.15);
    // 45 ohm is the limit of the rig; the last core had 10.5, and the contacts add less than one.
    expect(worn?.weeksToLimit).toBeGreaterThan(20);
    expect(worn?.weeksToLimit).toBeLessThan(26);
    expect(all.warnings).toHaveLength(1);
    expect(all.warnings[0]).toMatch(
      /^worn: pilot loop, series resistance .*pilot\.maxSeriesOhm.*extrapolation/,
    );
    const others = [...drifts('steady'), ...drifts('worn').filter((d) => d !== worn)];
    expect(others.map(({ figure }) => figure)).toHaveLength(7);
    for (const { figure, trend, weeksToLimit } of others)
      expect({ figure, clear: trend?.clear, weeksToLimit }).toEqual({
        figure,
        clear: false,
        weeksToLimit: null,
      });
    const svg = readFileSync(plot, 'utf8');
    expect(svg).toMatch(/^<svg/);
    for (const words of ['worn', 'steady', 'series resistance']) expect(svg).toContain(words);
    // In black and white: no hue anywhere.
    const colours = [...svg.matchAll(/#([0-9a-f]{3}|[0-9a-f]{6})\b/gi)].map(([, hex]) => hex!.toLowerCase());
    expect(colours.filter((hex) => new Set(hex.match(hex.length === 3 ? /./g : /../g)).size > 1)).toEqual([]);
  });

  it('tells each damaged or foreign file in a row, goes on, and exits 5', async () => {
    const bad = path.join(temporaryFolder(), 'bad');
    const { text, outcome } = sound[0]!;
    const lines = linesOf(text);
    const write = (name: string, content: string): void => {
      mkdirSync(bad, { recursive: true });
      writeFileSync(path.join(bad, name), content);
    };
    write('a-sound.ndjson', text);
    write('b-damaged.ndjson', text.replace('"isolation-dead"', '"isolation-dxad"'));
    write('c-foreign.ndjson', '{"hello":"there"}\n');
    write('d-empty.ndjson', '');
    write('e-picture.ndjson', '\u0000\u0001\u0002'.repeat(1000));
    const lastSeal = lines.findLastIndex((line, k) => line.includes('"k":"seal"') && k < lines.length / 2);
    write('f-lost.ndjson', lines.slice(0, lastSeal + 1).join(''));
    symlinkSync(path.join(bad, 'nowhere'), path.join(bad, 'g-link.ndjson'));
    mkdirSync(path.join(bad, 'h-folder.ndjson'));
    write('not-looked-at.txt', 'anything');
    const ended = await loopwarden(['journals', 'summary', bad, '--json']);
    expect(ended.code, ended.stderr).toBe(5);
    const all = objectOf<FleetSummary>(ended);
    expect(all.problems.map(({ file, row }) => [path.basename(file), row])).toEqual([
      ['b-damaged.ndjson', 'bad-block'],
      ['c-foreign.ndjson', 'not-a-journal'],
      ['d-empty.ndjson', 'empty'],
      ['e-picture.ndjson', 'not-a-journal'],
      ['f-lost.ndjson', 'unfinished'],
      ['g-link.ndjson', 'unreadable'],
    ]);
    for (const { file, what } of all.problems) expect(what, file).not.toBe('');
    expect(all.notIntact).toBe(5);
    expect(all.copies).toBe(0);
    // The damaged one breaks an invariant too; the one that was lost does not.
    expect(all.diverging).toBe(1);
    expect(all.unfinished).toBe(1);
    // The sound one and the one that was lost on the way; nothing of the damaged one.
    expect(all.sessions).toBe(2);
    expect(all.energy.toldKwh).toBeCloseTo(outcome.energyToBatteryKwh, 9);
  });

  it('with --replay sees what was changed under a chain made anew, and exits 6', async () => {
    const forged = path.join(temporaryFolder(), 'forged');
    mkdirSync(forged);
    const tripped = sound.find(({ outcome }) => outcome.trip !== null)!;
    const code = tripped.outcome.trip!.code;
    const text = changed(tripped.text, '"k":"trip"', (line) => line.replace(code, 'bond-lost'));
    writeFileSync(path.join(forged, 'a.ndjson'), text);
    const plain = await loopwarden(['journals', 'summary', forged, '--json']);
    expect(plain.code, plain.stdout).toBe(0);
    const replayed = await loopwarden(['journals', 'summary', forged, '--replay', '--json']);
    expect(replayed.code, replayed.stdout).toBe(6);
    expect(objectOf<FleetSummary>(replayed).problems[0]?.what).toMatch(/decisions diverge at record \d+/);
  });

  it('refuses a folder that is missing, empty or a file', async () => {
    const empty = temporaryFolder();
    const file = path.join(empty, 'x.txt');
    writeFileSync(file, '');
    for (const [where, why] of [
      [path.join(empty, 'missing'), 'there is no such folder'],
      [empty, 'there is no journal'],
      [file, 'it is a file, not a folder'],
    ] as const)
      for (const words of [
        ['summary', where],
        ['export', where, '--parquet', path.join(empty, 'out')],
        ['query', 'SELECT 1', where],
      ]) {
        const said = await runHere(addJournals, 'journals', ...words);
        expect({ ...said, stderr: '' }).toEqual({ stdout: '', stderr: '', code: 2 });
        expect(said.stderr).toContain(why);
        expect(said.stderr).not.toMatch(/\n\s+at /);
      }
    expect(existsSync(path.join(empty, 'out'))).toBe(false);
  });
});

describe('tables', () => {
  const place = temporaryFolder();
  const out = path.join(place, 'out');
  let damaged: string;
  beforeAll(async () => {
    damaged = path.join(temporaryFolder(), 'with-damage');
    for (const [k, { text }] of sound.entries()) {
      mkdirSync(path.join(damaged, 'x'), { recursive: true });
      writeFileSync(path.join(damaged, 'x', `${k}.ndjson`), text);
    }
    writeFileSync(
      path.join(damaged, 'x', '0-damaged.ndjson'),
      sound[0]!.text.replace('"isolation-dead"', '"isolation-dxad"'),
    );
    const said = await runHere(addJournals, 'journals', 'export', damaged, '--parquet', out);
    expect(said.code, said.stderr).toBe(0);
    expect(said.stderr).toMatch(/0-damaged\.ndjson: bad-block/);
  }, 120_000);

  async function read(sql: string): Promise<unknown[][]> {
    const instance = await DuckDBInstance.create(':memory:');
    const connection = await instance.connect();
    try {
      return (await connection.runAndReadAll(sql)).getRowsJS() as unknown[][];
    } finally {
      connection.closeSync();
      instance.closeSync();
    }
  }
  const from = (table: string): string =>
    `read_parquet('${out}/${table}/*/*/*.parquet', hive_partitioning = true)`;
  const texts = (): string[] => sound.map(({ text }) => text);

  it('hold every reading of the journals, and none of a damaged one', async () => {
    const meters = texts().flatMap((text) => countsOf(text, 'mt'));
    const [row] = await read(
      `SELECT count(*), sum(currentA), max(outputMaxV), count(DISTINCT journal) FROM ${from('readings_meter')}`,
    );
    expect(Number(row?.[0])).toBe(meters.length);
    expect(row?.[1]).toBeCloseTo(sum(meters.map((c) => (c[1] ?? 0) * 0.01)), 3);
    expect(row?.[2]).toBeCloseTo(Math.max(...meters.map((c) => (c[6] ?? 0) * 0.1)), 6);
    expect(Number(row?.[3])).toBe(sound.length);
    const rafts = [1, 2, 3, 4, 5, 6, 7, 8].map((n) => texts().flatMap((text) => countsOf(text, `r${n}`)));
    const byRaft = await read(
      `SELECT raft, count(*), sum(soc) FROM ${from('readings_raft')} GROUP BY raft ORDER BY raft`,
    );
    expect(byRaft.map(([raft, n]) => [raft, Number(n)])).toEqual(
      rafts.flatMap((rows, k) => (rows.length > 0 ? [[k + 1, rows.length]] : [])),
    );
    for (const [raft, , soc] of byRaft)
      expect(soc).toBeCloseTo(sum(rafts[Number(raft) - 1]!.map((c) => (c[9] ?? 0) * 0.0001)), 3);
  });

  it('hold every order, finding, refusal and phase', async () => {
    const records = texts().flatMap(recordsOf);
    const orders = records
      .filter(({ k, b }) => k === 'order' && b.durable !== true)
      .flatMap(({ b }) => b.orders);
    const rows = await read(`SELECT name, count(*), sum(currentA) FROM ${from('orders')} GROUP BY name`);
    expect(Object.fromEntries(rows.map(([name, n]) => [name, Number(n)]))).toEqual(
      tally(orders.map((o: { name: string }) => o.name)),
    );
    const setpoints = orders.filter((o: { name: string }) => o.name === 'setpoint');
    expect(rows.find(([name]) => name === 'setpoint')?.[2]).toBeCloseTo(
      sum(setpoints.map((o: { args: { currentA: number } }) => o.args.currentA)),
      6,
    );
    for (const [table, kind] of [
      ['findings', 'finding'],
      ['refusals', 'refusal'],
    ] as const) {
      const wanted = tally(records.filter(({ k }) => k === kind).map(({ b }) => b.code));
      const got = await read(`SELECT code, count(*) FROM ${from(table)} GROUP BY code`);
      expect(Object.fromEntries(got.map(([code, n]) => [code, Number(n)]))).toEqual(wanted);
    }
    const [phases] = await read(
      `SELECT count(*) FROM ${from('events')} WHERE kind = 'phase' AND text = 'ramping'`,
    );
    const ramped = sound.filter(({ outcome }) =>
      outcome.phases.some(({ name }) => name === 'ramping'),
    ).length;
    expect(Number(phases?.[0])).toBe(ramped);
  });

  it('have a row for each session, at its wall time, parted by rig and month', async () => {
    const rows = await read(
      `SELECT rig, month, count(*), sum(toldKwh), min(startedAt), count(*) FILTER (NOT intact) FROM ${from('sessions')} GROUP BY rig, month ORDER BY rig, month`,
    );
    // Six weeks from 20 January: two Mondays in January, four in February; the damaged one is of the first.
    const months = (rig: string) =>
      rows.filter((r) => r[0] === rig).map((r) => [r[1], Number(r[2]), Number(r[5])]);
    expect(months('steady')).toEqual([
      ['2031-01', 2, 0],
      ['2031-02', 4, 0],
    ]);
    expect(months('worn')).toEqual([
      ['2031-01', 3, 1],
      ['2031-02', 4, 0],
    ]);
    expect(months(HOSTILE)).toEqual([['2031-01', 2, 0]]);
    expect(rows[1]?.[4]).toEqual(new Date(BEGAN_MS));
    expect(sum(rows.map((r) => Number(r[3])))).toBeCloseTo(
      sum(sound.map(({ outcome }) => outcome.energyToBatteryKwh)),
      9,
    );
    // A name in a journal must not lead out of the folder.
    expect(readdirSync(place)).toEqual(['out']);
    expect(readdirSync(path.join(out, 'sessions')).sort()).toEqual([
      'rig=..%2F..%2Fevil',
      'rig=steady',
      'rig=worn',
    ]);
  });

  it('are never written over anything', async () => {
    const before = readdirSync(out, { recursive: true }).sort();
    const said = await runHere(addJournals, 'journals', 'export', damaged, '--parquet', out);
    expect(said.code).toBe(2);
    expect(said.stderr).toMatch(/nothing is written over/);
    expect(readdirSync(out, { recursive: true }).sort()).toEqual(before);
    expect(readdirSync(place)).toEqual(['out']);
  });

  const query = (sql: string, where: string) =>
    runHere(addJournals, 'journals', 'query', sql, where, '--json');

  it('answer the same from journals and from Parquet', async () => {
    const sql = `SELECT s.rig, s.month, s.outcome, count(*) AS n, sum(s.toldKwh) AS kwh, min(r.wallTime) AS first,
      max(r.currentMaxA) AS most FROM sessions s LEFT JOIN readings_meter r USING (journal) WHERE s.intact
      GROUP BY ALL ORDER BY ALL`;
    const ofJournals = await query(sql, damaged);
    const ofParquet = await query(sql, out);
    expect(ofJournals.code, ofJournals.stderr).toBe(0);
    expect(ofParquet.stdout).toBe(ofJournals.stdout);
    const rows = ofJournals.stdout
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(sum(rows.map((r) => r.n))).toBe(texts().flatMap((text) => countsOf(text, 'mt')).length);
    expect(rows.map((r) => r.first).sort()[0]).toMatch(/^2031-01-20T06:00:00/);
  });

  it('know all their names, also those nothing was read into', async () => {
    for (const where of [damaged, out]) {
      const said = await query('SHOW TABLES', where);
      expect(
        said.stdout
          .trimEnd()
          .split('\n')
          .map((line) => JSON.parse(line).name)
          .sort(),
        where,
      ).toEqual([...TABLE_NAMES].sort());
      const counted = await query('SELECT count(*) AS n FROM information_schema.tables, refusals', where);
      expect(JSON.parse(counted.stdout).n).toBeGreaterThan(0);
    }
  });

  const target = path.join(place, 'written');
  const secret = path.join(temporaryFolder(), 'secret.csv');
  writeFileSync(secret, 'a,b\n1,2\n');
  it.each([
    ['copying out', `COPY sessions TO '${target}'`],
    ['copying out through an explanation', `EXPLAIN ANALYZE COPY sessions TO '${target}'`],
    ['exporting all', `EXPORT DATABASE '${target}'`],
    ['attaching a data base', `ATTACH '${target}'`],
    ['reading a CSV file', `SELECT * FROM read_csv('${secret}')`],
    ['reading a file by its name', `SELECT * FROM '${secret}'`],
    ['reading it deep inside', `SELECT (SELECT max(content) FROM read_text('${secret}')) FROM sessions`],
    ['reading it by a name in a WITH', `WITH x AS (FROM read_blob('${secret}')) SELECT * FROM x`],
    ['listing files', `SELECT * FROM glob('${path.dirname(secret)}/*')`],
    ['looking into Parquet', `SELECT * FROM parquet_schema('${secret}')`],
    ['running SQL out of a text', `SELECT * FROM query('SELECT 1')`],
    ['logging into a file', `SELECT * FROM enable_logging(storage := 'file', storage_path := '${target}')`],
    ['loading an extension', 'LOAD httpfs'],
    ['installing an extension', 'INSTALL httpfs'],
    ['unlocking', 'SET enable_external_access = true'],
    ['profiling into a file', `PRAGMA profiling_output = '${target}'`],
    ['changing a table', 'DELETE FROM sessions'],
    ['making a table', 'CREATE TABLE x AS SELECT 1'],
    ['a second statement', `SELECT 1; COPY sessions TO '${target}'`],
    ['no statement', ' -- nothing'],
  ])('refuse %s', async (_, sql) => {
    const said = await query(sql, out);
    expect({ code: said.code, stdout: said.stdout }).toEqual({ code: 2, stdout: '' });
    expect(said.stderr).toMatch(/^the SQL is refused: [^\n]+; a question is one SELECT [^\n]+$/);
    expect(existsSync(target)).toBe(false);
  });
  it.each([
    ['what is no SQL', 'SELEC 1', 'cannot be understood'],
    ['a column there is not', 'SELECT nope FROM sessions', '"nope"'],
    ['a table there is not', 'SELECT * FROM sesions', 'sesions'],
    ['what fails on the way', `SELECT CAST(rig AS INTEGER) FROM sessions`, 'Could not convert'],
  ])('answer %s in one line', async (_, sql, words) => {
    const said = await query(sql, out);
    expect({ code: said.code, stdout: said.stdout }).toEqual({ code: 2, stdout: '' });
    expect(said.stderr.split('\n')).toHaveLength(1);
    expect(said.stderr).toContain(words);
  });
  it('refuse as a process of its own as well, without a stack', async () => {
    const ended = await loopwarden(['journals', 'query', `COPY sessions TO '${target}'`, out]);
    expect(ended.code).toBe(2);
    expect(ended.stdout).toBe('');
    expect(ended.stderr).toMatch(/^the SQL is refused: .*\n$/);
  });
});
