/**
 * What a person may ask of the tables: one SELECT, over the tables and their catalogue, with nothing that reaches
 * outside. The engine's own lock stands behind this; alone it would still let a question write into its temporary
 * folder and switch its log to a file.
 */
import { InputError } from '../host/input-error.js';
import { type Engine, openToJudge, wordsOf } from './engine.js';
import { SCHEMA } from './load.js';
import { TABLE_NAMES } from './tables.js';

/** Table functions that only count or unfold what they are given. */
const PERMITTED: ReadonlySet<string> = new Set([
  'unnest',
  'range',
  'generate_series',
  'repeat',
  'json_each',
  'json_tree',
]);
const ONLY = 'a question is one SELECT over the tables of src/fleet/TABLES.md, and reads nothing else';

const refuse = (why: string): never => {
  throw new InputError(`the SQL is refused: ${why}; ${ONLY}`);
};

interface Parsed {
  readonly error: boolean;
  readonly error_type?: string;
  readonly error_message?: string;
  readonly statements?: readonly unknown[];
}

/** @returns the tables it needs @throws InputError when it cannot be answered, or must not be */
export async function judgeSql(sql: string): Promise<ReadonlySet<string>> {
  let engine: Engine | null = null;
  try {
    engine = await openToJudge(SCHEMA);
    const { connection } = engine;
    const parsed = JSON.parse(
      String(
        (
          await connection.runAndReadAll('SELECT json_serialize_sql($1::VARCHAR)', [sql])
        ).getRowsJson()[0]?.[0],
      ),
    ) as Parsed;
    if (parsed.error) {
      if (parsed.error_type === 'not implemented') refuse('it is no SELECT, or holds something that is none');
      throw new InputError(`the SQL cannot be understood: ${parsed.error_message ?? 'no reason given'}`);
    }
    const { statements = [] } = parsed;
    if (statements.length !== 1) refuse(`it holds ${statements.length} statements`);
    const needed = neededBy(statements[0]);
    const prepared = await connection.prepare(sql);
    const open = prepared.parameterCount;
    prepared.destroySync();
    if (open > 0) refuse(`it leaves ${open} parameters open`);
    return needed;
  } catch (error) {
    if (error instanceof InputError) throw error;
    const words = wordsOf(error);
    if (/^Permission Error/.test(words)) refuse(words.replace(/^Permission Error: /, ''));
    throw new InputError(`the SQL cannot be answered: ${words}`);
  } finally {
    engine?.close();
  }
}

type Node = Readonly<Record<string, unknown>>;

/** Walks the parsed statement, whatever stands where. */
function neededBy(statement: unknown): ReadonlySet<string> {
  const needed = new Set<string>();
  const defined = new Set<string>();
  const named: string[] = [];
  let all = false;
  const walk = (node: unknown): void => {
    if (Array.isArray(node)) for (const each of node) walk(each);
    else if (typeof node === 'object' && node !== null) {
      const { type, table_name: table, function: called, key, value, query } = node as Node;
      // A name given by WITH.
      if (typeof key === 'string' && value !== undefined) defined.add(key.toLowerCase());
      if (type === 'BASE_TABLE') named.push(String(table).toLowerCase());
      if (type === 'SHOW_REF' && query === null) all = true;
      if (type === 'TABLE_FUNCTION') {
        const name = String((called as Node | undefined)?.function_name ?? '').toLowerCase();
        if (!PERMITTED.has(name)) refuse(`the function ${name} is not permitted`);
      }
      for (const each of Object.values(node)) walk(each);
    }
  };
  walk(statement);
  for (const name of named) {
    if (/[./\\:]/.test(name)) refuse(`${name} is a file`);
    if (TABLE_NAMES.includes(name)) needed.add(name);
    // The catalogue, which tells of every table.
    else if (!defined.has(name)) all = true;
  }
  return all ? new Set(TABLE_NAMES) : needed;
}
