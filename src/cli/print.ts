/** Printing for people: colour only on a terminal, tables that line up, figures with units. */
import { styleText } from 'node:util';

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

/** Significant digits for people, never exponents. */
export function figure(value: number | null, digits = 4): string {
  if (value === null || !Number.isFinite(value)) return '–';
  if (value === 0) return '0';
  const magnitude = Math.floor(Math.log10(Math.abs(value)));
  const decimals = Math.min(6, Math.max(0, digits - 1 - magnitude));
  return decimals === 0 ? String(Math.round(value)) : String(Number(value.toFixed(decimals)));
}

export const withUnit = (value: number | null, unit: string, digits = 4): string =>
  unit === '' ? figure(value, digits) : `${figure(value, digits)} ${unit}`;

const width = (text: string): number => [...text].length;

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

/** Folds a text to a width at spaces, with an indent for the lines that follow. */
export function fold(text: string, columns: number, indent: string): string {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line !== '' && width(line) + 1 + width(word) > columns) {
      lines.push(line);
      line = word;
    } else line = line === '' ? word : `${line} ${word}`;
  }
  lines.push(line);
  return lines.join(`\n${indent}`);
}
