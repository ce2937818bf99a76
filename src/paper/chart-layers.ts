/** What the layers of every figure share: its room on the page, its scales, its letters. */
import { plain } from './html.js';

export type Layer = Record<string, unknown>;

/** All that is printed of an A4 page between its margins, in px. */
export const FIGURE_WIDTH = 680;
export const LEFT = 46;
export const RIGHT = 128;
export const PLOT_WIDTH = FIGURE_WIDTH - LEFT - RIGHT;
const FONT = 9;
/** Width of a letter of that size, on the wide side. */
export const LETTER = 5.3;
export const ROW = 12;
const MOST_LETTERS = 48;

export const CHART_CONFIG = {
  aria: false,
  font: 'DejaVu Sans, Helvetica, Arial, sans-serif',
  // A frame would lie half under the bands.
  view: { stroke: null },
  axis: {
    labelFontSize: FONT,
    titleFontSize: FONT,
    titleFontWeight: 'normal',
    gridColor: '#dddddd',
    gridWidth: 0.6,
    domainColor: '#666666',
    tickColor: '#666666',
    labelColor: '#000000',
    titleColor: '#000000',
    titlePadding: 3,
  },
} as const;

/** Encodings that share the scales of the whole figure. */
export interface Place {
  x(field: string): Layer;
  y(field: string): Layer;
}

export function textLayer(
  values: readonly { readonly text: string }[],
  encoding: Layer,
  mark: Layer = {},
): Layer {
  return {
    data: { values: values.map((value) => ({ ...value, text: cut(plain(value.text)) })) },
    mark: { type: 'text', fontSize: FONT, baseline: 'middle', color: '#000000', ...mark },
    encoding: { ...encoding, text: { field: 'text' } },
  };
}

/** A name out of a journal may be of any length. */
const cut = (text: string): string => (text.length > MOST_LETTERS ? `${text.slice(0, MOST_LETTERS)}…` : text);
