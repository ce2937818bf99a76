/**
 * One figure as a vega-lite specification. It must be readable in black and white: every line has a dash
 * and width of its own and its name at its end, with a piece of it. Plot areas of all figures lie at the same place,
 * so that those with the same time axis can be read one under the other.
 */

import type { FigureChart, Line, Rule } from './chart.js';
import {
  CHART_CONFIG,
  type Layer,
  LEFT,
  LETTER,
  PLOT_WIDTH,
  type Place,
  RIGHT,
  ROW,
  textLayer,
} from './chart-layers.js';
import { markLayers, roomAbove } from './chart-marks.js';

/** Room above: for the unit alone, for the names of phases, and above them that of a trip. */
const TOP = { unit: 16, phases: 20, trip: 34 } as const;
const BOTTOM = 34;
/** Below a figure whose axis is that of the next one. */
const BOTTOM_UPPER = 5;
const HEIGHT = 128;
/** Tells lines apart without colour; the colours are dark enough to print. */
const STYLES = [
  { strokeDash: [1, 0], strokeWidth: 1.5, color: '#000000' },
  { strokeDash: [7, 3], strokeWidth: 1.5, color: '#1f3f6e' },
  { strokeDash: [1.5, 2.5], strokeWidth: 1.8, color: '#a52a1e' },
  { strokeDash: [9, 3, 1.5, 3], strokeWidth: 1.3, color: '#1d5c2c' },
] as const;
const RULE_STYLE = { strokeDash: [14, 4], strokeWidth: 0.8, color: '#444444' } as const;
const SHAPES = { finding: 'triangle-down', refusal: 'cross' } as const;

/** @returns null when there is nothing to draw */
export function figureSpec(chart: FigureChart): Record<string, unknown> | null {
  const y = domainOf(chart);
  if (y === null) return null;
  const height = chart.height ?? HEIGHT;
  const place = placing(chart, y, height);
  const trips = (chart.signs ?? []).some((s) => s.kind === 'trip');
  const marks = chart.part === 'lower' ? [] : (chart.marks ?? []);
  const above = trips ? 'trip' : (chart.bands ?? []).length > 0 ? 'phases' : 'unit';
  return {
    width: PLOT_WIDTH,
    height,
    padding: {
      left: LEFT,
      right: RIGHT,
      top: marks.length > 0 ? roomAbove(chart) : TOP[above],
      bottom: chart.part === 'upper' ? BOTTOM_UPPER : BOTTOM,
    },
    autosize: { type: 'none' },
    background: null,
    config: CHART_CONFIG,
    layer: [
      ...bandLayers(chart, place, height),
      ...(chart.rules ?? [])
        .filter((rule) => y[0] <= rule.y && rule.y <= y[1])
        .map((r) => ruleLayer(r, place)),
      ...chart.lines.map((line, i) => lineLayer(line, i, place)),
      ...noteLayers(chart, place),
      ...signLayers(chart, place, height),
      ...markLayers(chart, place, height),
      ...keyLayers(chart, y, height),
      textLayer([{ text: chart.unit }], { x: { value: -4 }, y: { value: -8 } }, { align: 'right' }),
    ],
  };
}

function placing(chart: FigureChart, yDomain: readonly [number, number], height: number): Place {
  const told =
    chart.part === 'upper' ? { title: null, labels: false, ticks: false } : { title: chart.xTitle };
  const xAxis = { ...told, tickCount: 8, labelOverlap: true, labelFlush: false, format: ',~f' };
  const yAxis = {
    title: null,
    tickCount: Math.max(3, Math.round(height / 28)),
    labelOverlap: true,
    format: ',~r',
    grid: true,
  };
  const type = 'quantitative';
  const plain = { nice: false, zero: false };
  return {
    x: (field) => ({
      field,
      type,
      scale: { ...plain, domain: chart.x },
      axis: { ...xAxis, grid: (chart.bands ?? []).length === 0 },
    }),
    y: (field) => ({
      field,
      type,
      scale: chart.log ? { type: 'log', domain: yDomain, nice: false } : { ...plain, domain: yDomain },
      axis: yAxis,
    }),
  };
}

/** @returns null without a single value */
function domainOf({
  lines,
  rules = [],
  fromZero,
  leastSpan = 0,
  log,
}: FigureChart): readonly [number, number] | null {
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const { points } of lines)
    for (const [, y] of points) {
      if (y === null || (log && y <= 0)) continue;
      least = Math.min(least, y);
      most = Math.max(most, y);
    }
  if (!Number.isFinite(least)) return null;
  for (const { y } of rules) {
    if (!Number.isFinite(y)) continue;
    least = Math.min(least, y);
    most = Math.max(most, y);
  }
  if (log) return [least / 1.6, most * 1.6];
  if (fromZero) {
    least = Math.min(least, 0);
    most = Math.max(most, 0);
  }
  const lacking = Math.max(leastSpan, 1e-9) - (most - least);
  if (lacking > 0) {
    most += lacking / 2;
    least -= lacking / 2;
  }
  const span = most - least;
  return [least - 0.06 * span, most + 0.08 * span];
}

function lineLayer({ points, holds, dots }: Line, i: number, place: Place): Layer {
  const { color } = STYLES[i % STYLES.length] as (typeof STYLES)[number];
  return {
    data: { values: points.map(([x, y]) => ({ x, y })) },
    mark: {
      type: 'line',
      ...(dots ? { point: { size: 9, filled: true, color, strokeWidth: 0 } } : {}),
      interpolate: holds ? 'step-after' : 'linear',
      strokeJoin: 'round',
      invalid: 'break-paths-filter-domains',
      ...STYLES[i % STYLES.length],
    },
    encoding: { x: place.x('x'), y: place.y('y') },
  };
}

const ruleLayer = ({ y }: Rule, place: Place): Layer => ({
  data: { values: [{ y }] },
  mark: { type: 'rule', ...RULE_STYLE },
  encoding: { y: place.y('y') },
});

/** Phases as bands, grey and white in turn; each named where its name fits, else by its number. */
function bandLayers({ bands = [], x }: FigureChart, place: Place, height: number): Layer[] {
  const [from, to] = x;
  const shown = bands.filter((b) => b.to > from && b.from < to);
  if (shown.length === 0) return [];
  const perUnit = PLOT_WIDTH / (to - from);
  const values = shown.map((b) => {
    const left = Math.max(b.from, from);
    const right = Math.min(b.to, to);
    const room = (right - left) * perUnit;
    const named = `${b.number} ${b.name}`;
    const number = String(b.number);
    const fits = (text: string): boolean => text.length * LETTER + 3 <= room;
    return {
      left,
      right,
      middle: (left + right) / 2,
      odd: b.number % 2 === 1,
      text: fits(named) ? named : fits(number) ? number : '',
    };
  });
  const edges = values.filter((v) => v.left > from);
  return [
    {
      data: { values: values.filter((v) => v.odd) },
      // The lines of the grid show through.
      mark: { type: 'rect', color: '#000000', opacity: 0.07 },
      encoding: { x: place.x('left'), x2: { field: 'right' }, y: { value: 0 }, y2: { value: height } },
    },
    {
      data: { values: edges },
      mark: { type: 'rule', color: '#888888', strokeWidth: 0.6, strokeDash: [2, 2] },
      encoding: { x: place.x('left'), y: { value: -14 }, y2: { value: height } },
    },
    textLayer(
      values.filter((v) => v.text !== ''),
      { x: place.x('middle'), y: { value: -9 } },
    ),
  ];
}

function signLayers({ signs = [], x }: FigureChart, place: Place, height: number): Layer[] {
  const shown = signs.filter((s) => s.x >= x[0] && s.x <= x[1]);
  const trips = shown.filter((s) => s.kind === 'trip').map((s) => ({ x: s.x, text: `trip: ${s.text}` }));
  const layers: Layer[] = (['finding', 'refusal'] as const)
    .map((kind) => ({ kind, values: shown.filter((s) => s.kind === kind).map((s) => ({ x: s.x })) }))
    .filter(({ values }) => values.length > 0)
    .map(({ kind, values }) => ({
      data: { values },
      mark: { type: 'point', shape: SHAPES[kind], size: 45, filled: true, color: '#000000', opacity: 1 },
      encoding: { x: place.x('x'), y: { value: 5 } },
    }));
  if (trips.length === 0) return layers;
  const middle = (x[0] + x[1]) / 2;
  const label = (
    values: readonly { readonly x: number; readonly text: string }[],
    align: string,
    dx: number,
  ): Layer => textLayer(values, { x: place.x('x'), y: { value: -23 } }, { align, dx, fontWeight: 'bold' });
  return [
    ...layers,
    {
      data: { values: trips },
      mark: { type: 'rule', color: '#000000', strokeWidth: 1.8 },
      encoding: { x: place.x('x'), y: { value: -28 }, y2: { value: height } },
    },
    // Towards the middle, so that it stays on the paper.
    label(
      trips.filter((t) => t.x > middle),
      'right',
      -4,
    ),
    label(
      trips.filter((t) => t.x <= middle),
      'left',
      4,
    ),
  ];
}

/** The longest first; each where it meets no other. */
function noteLayers({ notes = [], x }: FigureChart, place: Place): Layer[] {
  const perUnit = PLOT_WIDTH / (x[1] - x[0]);
  const taken: (readonly [left: number, right: number])[] = [];
  const values = [...notes]
    .sort((a, b) => b.until - b.x - (a.until - a.x))
    .flatMap((note) => {
      const width = note.text.length * LETTER + 6;
      const at = (Math.max(note.x, x[0]) - x[0]) * perUnit;
      const left = Math.max(0, Math.min(at, PLOT_WIDTH - width));
      const free = taken.every(([l, r]) => left + width <= l || r <= left);
      if (!free || note.x > x[1] || note.until < x[0]) return [];
      taken.push([left, left + width]);
      return [{ x: x[0] + (left + 3) / perUnit, y: note.y, text: note.text }];
    });
  if (values.length === 0) return [];
  const at = { x: place.x('x'), y: place.y('y') };
  const mark = { align: 'left', dy: 8 };
  // First its shape in white, so that it can be read across a line.
  return [
    textLayer(values, at, { ...mark, stroke: '#ffffff', strokeWidth: 3, strokeJoin: 'round' }),
    textLayer(values, at, mark),
  ];
}

/** Names at the end of their lines, each with a piece of it, moved apart where they would meet. */
function keyLayers(chart: FigureChart, y: readonly [number, number], height: number): Layer[] {
  const { lines, rules = [], log } = chart;
  const scale = (value: number): number => {
    const share = log ? Math.log(value / y[0]) / Math.log(y[1] / y[0]) : (value - y[0]) / (y[1] - y[0]);
    return height * (1 - share);
  };
  const keys = [
    ...lines.flatMap(({ name, points }, i) => {
      const last = points.findLast((p) => p[1] !== null && !(log && p[1] <= 0));
      return last === undefined
        ? []
        : [{ name, at: scale(last[1] as number), style: STYLES[i % STYLES.length] }];
    }),
    ...rules
      .filter((rule) => y[0] <= rule.y && rule.y <= y[1])
      .map((rule) => ({ name: rule.name, at: scale(rule.y), style: RULE_STYLE })),
  ];
  const places = apart(
    keys.map((k) => k.at),
    height,
  );
  return keys.flatMap(({ name, style }, i) => [
    {
      data: { values: [{}] },
      mark: { type: 'rule', ...style },
      encoding: {
        x: { value: PLOT_WIDTH + 5 },
        x2: { value: PLOT_WIDTH + 27 },
        y: { value: places[i] },
      },
    },
    textLayer(
      [{ text: name }],
      { x: { value: PLOT_WIDTH + 31 }, y: { value: places[i] } },
      { align: 'left' },
    ),
  ]);
}

/** Moves labels apart by whole rows, as little as it takes, within the height. @returns where each goes */
export function apart(wanted: readonly number[], height: number): number[] {
  const order = wanted.map((at, i) => ({ at, i })).sort((a, b) => a.at - b.at);
  const placed = wanted.slice();
  let next = Number.NEGATIVE_INFINITY;
  for (const { at, i } of order) {
    placed[i] = Math.max(at, next, 0);
    next = (placed[i] as number) + ROW;
  }
  // Those pushed over the lower edge go back up.
  let most = height;
  for (const { i } of order.reverse()) {
    placed[i] = Math.min(placed[i] as number, most);
    most = (placed[i] as number) - ROW;
  }
  return placed;
}
