/** Figures and texts for people, the same on a terminal and on paper. */

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

/** Characters as a person counts them. */
export const width = (text: string): number => [...text].length;

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
