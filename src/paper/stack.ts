/** Figures one under the other in one SVG file, on white, with a title and lines of text above and below. */
import { escaped } from './html.js';

const TITLE_PX = 24;
const LINE_PX = 14;
const MARGIN_PX = 12;
const FONT = 'DejaVu Sans, Helvetica, Arial, sans-serif';

export interface Stack {
  readonly title: string;
  readonly lines: readonly string[];
  readonly figures: readonly { readonly title: string; readonly svg: string }[];
  readonly foot: readonly string[];
}

export function stackOf({ title, lines, figures, foot }: Stack): string {
  let y = MARGIN_PX;
  let width = 0;
  const parts: string[] = [];
  const text = (line: string, size: number, weight: string, height: number): void => {
    parts.push(
      `<text x="${MARGIN_PX}" y="${y + size}" font-family="${FONT}" font-size="${size}" font-weight="${weight}">${escaped(line)}</text>`,
    );
    y += height;
  };
  text(title, 14, 'bold', TITLE_PX);
  for (const line of lines) text(line, 10, 'normal', LINE_PX);
  for (const figure of figures) {
    y += LINE_PX / 2;
    text(figure.title, 10, 'bold', LINE_PX);
    const [, own = '', tall = ''] = /^<svg [^>]*?\bwidth="([\d.]+)" height="([\d.]+)"/.exec(figure.svg) ?? [];
    parts.push(figure.svg.replace(/^<svg /, `<svg x="0" y="${y}" `));
    width = Math.max(width, Number(own));
    y += Number(tall);
  }
  y += LINE_PX / 2;
  for (const line of foot) text(line, 9, 'normal', LINE_PX);
  const size = `width="${width}" height="${y + MARGIN_PX}"`;
  return `<svg xmlns="http://www.w3.org/2000/svg" ${size} viewBox="0 0 ${width} ${y + MARGIN_PX}"><rect ${size} fill="white"/>${parts.join('')}</svg>\n`;
}
