/** src/fleet/TABLES.md tells of every table and column with its type, unit and meaning, and of none besides. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { PARTED_BY, TABLES } from '../../../src/fleet/tables.js';

const text = readFileSync(path.resolve(import.meta.dirname, '../../../src/fleet/TABLES.md'), 'utf8');

/** Rows of the tables under each heading, their cells without padding. */
function documented(): Map<string, string[][]> {
  const found = new Map<string, string[][]>();
  let rows: string[][] = [];
  for (const line of text.split('\n')) {
    const heading = /^#+ (.*)$/.exec(line)?.[1];
    if (heading !== undefined) {
      rows = [];
      found.set(heading.replaceAll('`', ''), rows);
    } else if (line.startsWith('| `'))
      rows.push(
        line
          .split('|')
          .slice(1, -1)
          .map((cell, k) => (k === 0 ? cell.trim().replaceAll('`', '') : cell.trim())),
      );
  }
  return found;
}

describe('the document of the tables', () => {
  const found = documented();
  it.each([
    { name: 'In every table', columns: PARTED_BY },
    ...TABLES.map(({ name, columns }) => ({ name, columns })),
  ])('tells of $name', ({ name, columns }) => {
    const rows = found.get(name);
    expect(rows).toEqual(
      columns.map(({ name: column, type, unit, text: what }) => [column, type, unit, what]),
    );
  });
  it('tells what each table is, and has no table besides', () => {
    for (const table of TABLES) expect(text, table.name).toContain(table.text.slice(1));
    const tables = [...found].filter(([, rows]) => rows.length > 0).map(([heading]) => heading);
    expect(tables.sort()).toEqual(['In every table', ...TABLES.map(({ name }) => name)].sort());
  });
  it('gives no column a name that SQL takes for a word of its own', () => {
    const words = ['at', 'on', 'by', 'limit', 'order', 'from', 'to', 'end', 'asc', 'desc', 'when', 'then'];
    expect(TABLES.flatMap((t) => t.columns).filter(({ name }) => words.includes(name.toLowerCase()))).toEqual(
      [],
    );
  });
});
