/** Several drawings one under the other, as one SVG file with a headline and a foot. */
import { escaped } from './html.js';

const HEAD = 46;
const FOOT = 34;
const GAP = 6;
const MARGIN = 10;

interface Drawing {
  readonly width: number;
  readonly height: number;
  readonly inner: string;
}

function read(svg: string): Drawing {
  const [, width = '0', height = '0'] = /viewBox="0 0 ([\d.]+) ([\d.]+)"/.exec(svg) ?? [];
  const inner = svg.slice(svg.indexOf('>') + 1, svg.lastIndexOf('</svg>'));
  return { width: Number(width), height: Number(height), inner };
}

/** @param lines below the headline @param foot e.g. the caution */
export function stacked(
  svgs: readonly string[],
  title: string,
  lines: readonly string[],
  foot: readonly string[],
): string {
  const drawings = svgs.map(read);
  const width = Math.max(...drawings.map((d) => d.width)) + 2 * MARGIN;
  const top = HEAD + 14 * Math.max(0, lines.length - 1);
  let y = top;
  const placed = drawings.map((d) => {
    const at = `<svg x="${MARGIN}" y="${y}" width="${d.width}" height="${d.height}" viewBox="0 0 ${d.width} ${d.height}">${d.inner}</svg>`;
    y += d.height + GAP;
    return at;
  });
  const text = (line: string, at: number, style: string): string =>
    `<text x="${MARGIN}" y="${at}" ${style}>${escaped(line)}</text>`;
  const small = 'font-size="11"';
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="${width}" height="${y + FOOT}" viewBox="0 0 ${width} ${y + FOOT}" font-family="DejaVu Sans, Helvetica, Arial, sans-serif">`,
    `<rect width="100%" height="100%" fill="#fff"/>`,
    text(title, 20, 'font-size="15" font-weight="bold"'),
    ...lines.map((line, i) => text(line, 36 + 14 * i, small)),
    ...placed,
    ...foot.map((line, i) => text(line, y + 10 + 14 * i, `${small} font-weight="bold"`)),
    '</svg>\n',
  ].join('\n');
}
