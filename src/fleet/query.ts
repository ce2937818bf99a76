/** Answers a question in SQL over journals, or over a folder they were exported to. */
import path from 'node:path';
import { withTemporaryFolder } from '../host/durable-file.js';
import { filesBelow } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import {
  type Connection,
  type Engine,
  openToAsk,
  openToBuild,
  quotedName,
  quotedText,
  wordsOf,
} from './engine.js';
import { judgeSql } from './gate.js';
import { folderError, JOURNAL_ENDING } from './gather.js';
import { type Loaded, loadJournals } from './load.js';
import { columnsOf, PARTED_BY, TABLES } from './tables.js';

const PARQUET_ENDING = '.parquet';

export interface Asked {
  readonly sql: string;
  readonly folder: string;
  onProgress(done: number, of: number): void;
  /** null when the folder holds Parquet. */
  onLoaded(loaded: Loaded | null): void;
  onColumns(names: readonly string[]): void;
  /** @returns false when it wants no more rows */
  onRow(row: readonly unknown[]): boolean;
}

/** @throws InputError when the SQL or the folder cannot be used */
export async function ask(asked: Asked): Promise<void> {
  const { sql, folder } = asked;
  const wanted = await judgeSql(sql);
  const parquet = parquetBelow(folder);
  await withTemporaryFolder(async (temporary) => {
    const file = path.join(temporary, 'tables.db');
    const spill = path.join(temporary, 'spill');
    const building = await openToBuild(file, spill);
    try {
      if (parquet === null)
        asked.onLoaded(
          await loadJournals(building.connection, { folder, wanted, onProgress: asked.onProgress }),
        );
      else {
        await loadParquet(building.connection, parquet, folder, wanted);
        asked.onLoaded(null);
      }
    } finally {
      building.close();
    }
    const asking = await openToAsk(file, spill);
    try {
      await answer(asking, asked);
    } finally {
      asking.close();
    }
  });
}

async function answer({ connection }: Engine, { sql, onColumns, onRow }: Asked): Promise<void> {
  try {
    const result = await connection.stream(sql);
    onColumns(result.deduplicatedColumnNames());
    for await (const rows of result.yieldRowsJs()) for (const row of rows) if (!onRow(row.map(plain))) return;
  } catch (error) {
    if (error instanceof InputError) throw error;
    throw new InputError(`the SQL cannot be answered: ${wordsOf(error)}`);
  }
}

/** What JSON can hold: counts as numbers, times as ISO 8601, no NaN. */
function plain(value: unknown): unknown {
  if (typeof value === 'bigint')
    return value >= Number.MIN_SAFE_INTEGER && value <= Number.MAX_SAFE_INTEGER
      ? Number(value)
      : String(value);
  if (typeof value === 'number') return Number.isFinite(value) ? value : null;
  if (value instanceof Date) return Number.isNaN(value.getTime()) ? null : value.toISOString();
  if (Array.isArray(value)) return value.map(plain);
  if (typeof value === 'object' && value !== null)
    return Object.fromEntries(Object.entries(value).map(([key, each]) => [key, plain(each)]));
  return value;
}

/** @returns the Parquet files of an export by table, or null when the folder holds journals */
function parquetBelow(folder: string): ReadonlyMap<string, string[]> | null {
  let files: string[];
  let journals: boolean;
  try {
    files = filesBelow(folder, PARQUET_ENDING).flatMap((f) => (f.trouble === undefined ? [f.file] : []));
    journals = files.length > 0 && filesBelow(folder, JOURNAL_ENDING).length > 0;
  } catch (error) {
    throw folderError(folder, error);
  }
  if (files.length === 0) return null;
  if (journals) throw new InputError(`${folder} holds journals and Parquet: name the folder of one of them`);
  const byTable = new Map<string, string[]>();
  for (const file of files) {
    const table = path.relative(folder, file).split(path.sep)[0] ?? '';
    byTable.set(table, [...(byTable.get(table) ?? []), file]);
  }
  if (!byTable.has('sessions'))
    throw new InputError(`${folder} holds Parquet, but no table \`sessions\`: name the folder of an export`);
  return byTable;
}

async function loadParquet(
  connection: Connection,
  files: ReadonlyMap<string, string[]>,
  folder: string,
  wanted: ReadonlySet<string>,
): Promise<void> {
  const hive = `hive_partitioning = true, hive_types = {${PARTED_BY.map(({ name, type }) => `${name}: ${type}`).join(', ')}}`;
  for (const table of TABLES) {
    const from = files.get(table.name) ?? [];
    const columns = columnsOf(table);
    if (from.length === 0 || !wanted.has(table.name)) {
      const empty = columns.map(({ name, type }) => `${quotedName(name)} ${type}`).join(', ');
      await connection.run(`CREATE TABLE ${table.name} (${empty})`);
      continue;
    }
    const names = columns.map(
      ({ name, type }) => `CAST(${quotedName(name)} AS ${type}) AS ${quotedName(name)}`,
    );
    try {
      await connection.run(
        `CREATE TABLE ${table.name} AS SELECT ${names.join(', ')} FROM read_parquet([${from.map(quotedText).join(', ')}], ${hive})`,
      );
    } catch (error) {
      throw new InputError(`${folder}: ${table.name} is not as an export of this version: ${wordsOf(error)}`);
    }
  }
}
