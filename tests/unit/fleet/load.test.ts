/** A journal too long to be held until its end goes through a transaction, and comes to the same. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openToBuild } from '../../../src/fleet/engine.js';
import { type Loaded, loadJournals } from '../../../src/fleet/load.js';
import { TABLE_NAMES } from '../../../src/fleet/tables.js';
import { countsOf, madeJournal } from './build.js';

const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-test-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const journals = path.join(folder, 'journals');
let texts: string[];

beforeAll(async () => {
  mkdirSync(journals);
  const made = { base: 'depot-cable', rig: 'a', wallMs: Date.UTC(2031, 2, 3) };
  texts = [(await madeJournal({ ...made, seed: 1 })).text, (await madeJournal({ ...made, seed: 2 })).text];
  const [first = '', second = ''] = texts;
  writeFileSync(path.join(journals, '1.ndjson'), first);
  writeFileSync(
    path.join(journals, '2-damaged.ndjson'),
    first.replace('"isolation-dead"', '"isolation-dxad"'),
  );
  writeFileSync(path.join(journals, '3.ndjson'), second);
  writeFileSync(
    path.join(journals, '4-damaged.ndjson'),
    second.replace('"isolation-dead"', '"isolation-dxad"'),
  );
}, 60_000);

async function load(mostHeld: number): Promise<{ loaded: Loaded; rows: unknown[] }> {
  const engine = await openToBuild(path.join(folder, `${mostHeld}.db`), path.join(folder, 'spill'));
  try {
    const wanted = new Set(TABLE_NAMES);
    const options = { folder: journals, wanted, mostHeld, onProgress: () => {} };
    const loaded = await loadJournals(engine.connection, options);
    const counts = TABLE_NAMES.map(
      (name) => `SELECT '${name}', count(*), count(DISTINCT journal) FROM ${name}`,
    );
    const result = await engine.connection.runAndReadAll(`${counts.join(' UNION ALL ')} ORDER BY ALL`);
    return { loaded, rows: result.getRows() };
  } finally {
    engine.close();
  }
}

describe('loading', () => {
  it('comes to the same whether a journal is held to its end or not', async () => {
    const held = await load(1e9);
    const spilt = await load(100);
    expect(spilt).toEqual(held);
    expect(held.loaded.problems.map(({ row }) => row)).toEqual(['bad-block', 'bad-block']);
    const meters = texts.flatMap((text) => countsOf(text, 'mt')).length;
    expect(held.loaded.rows).toMatchObject({ sessions: 4, readings_meter: meters });
    const row = held.rows.find((r) => (r as unknown[])[0] === 'readings_meter') as unknown[];
    expect(row.slice(1).map(Number)).toEqual([meters, 2]);
  });
});
