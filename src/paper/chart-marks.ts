/**
 * Moments as lines from top to bottom, their names above in rows: a name stands to the right of its line, and what
 * comes soon after it has its own name in a lower row, so that no line runs through a name.
 */
import type { FigureChart, Mark } from './chart.js';
import { type Layer, LETTER, PLOT_WIDTH, type Place, RIGHT, textLayer } from './chart-layers.js';

const ROW_HEIGHT = 11;
/** From the upper edge of the plot to the middle of the lowest row. */
const LOWEST = 18;
const GAP = 3;
/** Bold letters are wider. */
const BOLD = 1.15;

const widthOf = ({ text, strong }: Mark): number => text.length * LETTER * (strong ? BOLD : 1) + 2 * GAP;

/** @param at px from the left, ascending @param widths of their names @returns the row of each, 0 is the lowest */
export function rowsOf(at: readonly number[], widths: readonly number[]): number[] {
  const rows: number[] = at.map(() => 0);
  for (let i = at.length - 1; i >= 0; i--) {
    const end = (at[i] as number) + (widths[i] as number);
    for (let j = i + 1; j < at.length && (at[j] as number) < end; j++)
      rows[i] = Math.max(rows[i] as number, (rows[j] as number) + 1);
  }
  return rows;
}

interface Placed {
  readonly mark: Mark;
  readonly row: number;
  /** To the left of its line, where there is no room to the right. */
  readonly left: boolean;
}

function placed({ marks = [], x }: FigureChart): Placed[] {
  const perUnit = PLOT_WIDTH / (x[1] - x[0]);
  const shown = marks.filter((m) => m.x >= x[0] && m.x <= x[1]).sort((a, b) => a.x - b.x);
  const px = shown.map((m) => (m.x - x[0]) * perUnit);
  const rows = rowsOf(px, shown.map(widthOf));
  return shown.map((mark, i) => ({
    mark,
    row: rows[i] as number,
    left: (px[i] as number) + widthOf(mark) > PLOT_WIDTH + RIGHT,
  }));
}

/** Above the plot, for all rows of names. */
export const roomAbove = (chart: FigureChart): number =>
  LOWEST + ROW_HEIGHT * (0.5 + Math.max(0, ...placed(chart).map((p) => p.row)));

export function markLayers(chart: FigureChart, place: Place, height: number): Layer[] {
  const named = chart.part !== 'lower';
  return placed(chart).flatMap(({ mark, row, left }): Layer[] => {
    const { x, text, strong, cause } = mark;
    const top = named ? -LOWEST - row * ROW_HEIGHT : 0;
    const line: Layer = {
      data: { values: [{ x }] },
      mark: {
        type: 'rule',
        color: '#000000',
        strokeWidth: strong ? 1.8 : cause ? 1.3 : 0.6,
        ...(cause ? { strokeDash: [4, 2] } : {}),
      },
      encoding: {
        x: place.x('x'),
        y: { value: top - ROW_HEIGHT / 2 + 1 },
        y2: { value: chart.part === 'upper' ? height + 5 : height },
      },
    };
    if (!named) return [line];
    const side = left ? { align: 'right', dx: -GAP } : { align: 'left', dx: GAP };
    return [
      line,
      textLayer(
        [{ x, text }] as readonly { readonly x: number; readonly text: string }[],
        { x: place.x('x'), y: { value: top } },
        { ...side, ...(strong ? { fontWeight: 'bold' } : {}) },
      ),
    ];
  });
}
