/** Printing for people: colour only on a terminal, tables that line up, figures with units. */
import { styleText } from 'node:util';
import { width } from '../host/words.js';

export { figure, fold, withUnit } from '../host/words.js';

type Style = 'bold' | 'dim' | 'red' | 'yellow' | 'green' | 'cyan';

/** Colour is for terminals; NO_COLOR is honoured. */
const coloured = process.stdout.isTTY === true && (process.env.NO_COLOR ?? '') === '';
export const paint = (style: Style, text: string): string => (coloured ? styleText(style, text) : text);

export function say(text = ''): void {
  process.stdout.write(`${text}\n`);
}

export function complain(text: string): void {
  process.stderr.write(`${text}\n`);
}

/** A file may hold anything: what a terminal would obey is not printed. */
export function printable<T>(value: T): T {
  if (typeof value === 'string') return value.replace(/[\p{Cc}\p{Cf}]/gu, '\uFFFD') as T;
  if (Array.isArray(value)) return value.map(printable) as T;
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([key, each]) => [key, printable(each)])) as T;
}

/** Columns padded to their widest cell; `right` names the columns that hold figures. */
export function table(
  head: readonly string[],
  rows: readonly (readonly string[])[],
  right: readonly number[] = [],
): string {
  const widths = head.map((h, i) => Math.max(width(h), ...rows.map((r) => width(r[i] ?? ''))));
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, i) => {
        const gap = ' '.repeat(Math.max(0, (widths[i] ?? 0) - width(cell)));
        return right.includes(i) ? gap + cell : cell + gap;
      })
      .join('  ')
      .trimEnd();
  return [paint('bold', line(head)), ...rows.map(line)].join('\n');
}
