/**
 * The embedded analytical engine: the only place that loads it, and only when a command needs it. Opened either to
 * build tables, or locked: read-only, without any access to files, extensions or its own configuration.
 */
import type { DuckDBConnection, DuckDBDataChunk, DuckDBType } from '@duckdb/node-api';
import type { Cell, ColumnType } from './tables.js';

export type Connection = DuckDBConnection;

const load = () => import('@duckdb/node-api');

/** Nothing is ever fetched, and no more is held than this; what does not fit goes to the temporary folder. */
const COMMON = {
  memory_limit: '512MB',
  threads: '2',
  autoinstall_known_extensions: 'false',
  autoload_known_extensions: 'false',
  allow_community_extensions: 'false',
};

export interface Engine {
  readonly connection: Connection;
  close(): void;
}

async function open(file: string, options: Record<string, string>): Promise<Engine> {
  const { DuckDBInstance } = await load();
  const instance = await DuckDBInstance.create(file, options);
  const connection = await instance.connect();
  return {
    connection,
    close: () => {
      connection.closeSync();
      instance.closeSync();
    },
  };
}

/** @param file of the data base; in `spill` goes what does not fit into memory */
export const openToBuild = (file: string, spill: string): Promise<Engine> =>
  open(file, { ...COMMON, temp_directory: spill });

/** For questions by people, over a data base that was built before. */
export const openToAsk = (file: string, spill: string): Promise<Engine> =>
  open(file, {
    ...COMMON,
    access_mode: 'READ_ONLY',
    temp_directory: spill,
    enable_external_access: 'false',
    // Last: behind it nothing can be set any more.
    lock_configuration: 'true',
  });

/** An empty data base with the tables given, as locked: to look at a question before anything is read for it. */
export async function openToJudge(schema: readonly string[]): Promise<Engine> {
  const engine = await open(':memory:', { ...COMMON, temp_directory: '', enable_external_access: 'false' });
  for (const statement of schema) await engine.connection.run(statement);
  await engine.connection.run('SET lock_configuration = true');
  return engine;
}

/** As the engine wants identifiers and texts in SQL. */
export const quotedName = (name: string): string => `"${name.replaceAll('"', '""')}"`;
export const quotedText = (text: string): string => `'${text.replaceAll("'", "''")}'`;

/** The first line says it; what follows is the engine's own drawing of the statement. */
export function wordsOf(error: unknown): string {
  const message = error instanceof Error ? error.message : String(error);
  return message.split('\n')[0]?.trim() ?? message;
}

/** A chunk of the engine holds no more. */
const CHUNK_ROWS = 2048;

/** Appends rows to a table, many at a time. */
export interface Appender {
  add(row: readonly Cell[]): void;
  /** All rows added are in the table. */
  flush(): void;
  close(): void;
}

export async function appenderTo(
  connection: Connection,
  schema: string,
  table: string,
  types: readonly ColumnType[],
): Promise<Appender> {
  const { DuckDBDataChunk: Chunk, BOOLEAN, DOUBLE, INTEGER, VARCHAR } = await load();
  // Wall times are kept in ms until they leave.
  const typeOf: Record<ColumnType, DuckDBType> = { VARCHAR, DOUBLE, INTEGER, BOOLEAN, TIMESTAMP: DOUBLE };
  const columnTypes = types.map((type) => typeOf[type]);
  const appender = await connection.createAppender(table, schema);
  // One for all: the memory of a chunk lies outside the heap, where nothing presses to collect it.
  const chunk: DuckDBDataChunk = Chunk.create(columnTypes, 0);
  let columns: Cell[][] = types.map(() => []);
  let rows = 0;
  const hand = (): void => {
    if (rows === 0) return;
    chunk.reset();
    chunk.rowCount = rows;
    chunk.setColumns(columns);
    appender.appendDataChunk(chunk);
    columns = types.map(() => []);
    rows = 0;
  };
  return {
    add(row) {
      for (let k = 0; k < columns.length; k++) columns[k]?.push(row[k] ?? null);
      if (++rows === CHUNK_ROWS) hand();
    },
    flush() {
      hand();
      appender.flushSync();
    },
    close: () => appender.closeSync(),
  };
}
