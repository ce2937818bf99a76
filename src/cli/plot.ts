/** Charts for `--plot`: a vega-lite specification becomes an SVG file, without a browser. */
import { specToSvg } from '../paper/svg.js';
import { fold } from './print.js';
import { writeOut } from './write-out.js';

/** One line of a chart, in the units of its axes. */
export interface Series {
  readonly name: string;
  readonly x: ArrayLike<number>;
  readonly y: ArrayLike<number>;
  /** Measured points are drawn as dots, computed ones as a line. */
  readonly mark: 'line' | 'points';
}

export interface Chart {
  readonly title: string;
  readonly subtitle?: string;
  readonly xTitle: string;
  readonly yTitle: string;
  readonly series: readonly Series[];
}

/** More points than this make a file nobody can open and show nothing more. */
const MAX_POINTS = 4000;
/** One pair of hues for what was measured (light) and what was computed of it (dark, drawn over it). */
const POINT_COLOURS = ['#8fb8de', '#f3b07c', '#a3cf9a', '#c9aee0', '#e3cd74', '#9fb0b8'];
const LINE_COLOURS = ['#1f3f6e', '#a52a1e', '#1d5c2c', '#57277f', '#7a5c00', '#20303a'];
/** Longer ones run over the edge. */
const SUBTITLE_CHARS = 95;
/** So few points are marks to be found, not a trace. */
const FEW_POINTS = 10;

/** The vega-lite specification of a chart; long series are thinned evenly. */
export function chartSpec(chart: Chart): Record<string, unknown> {
  const values = chart.series.flatMap(({ name, x, y }) => {
    const step = Math.max(1, Math.ceil((x.length * chart.series.length) / MAX_POINTS));
    return Array.from({ length: Math.ceil(x.length / step) }, (_, k) => ({
      series: name,
      x: x[k * step] ?? null,
      y: y[k * step] ?? null,
    }));
  });
  const names = chart.series.map((s) => s.name);
  const scale = { zero: false, nice: false, padding: 6 };
  const layer = chart.series.map(({ name, mark, x }) => ({
    mark:
      mark === 'line'
        ? { type: 'line', strokeWidth: 1.5 }
        : { type: 'point', filled: true, size: x.length <= FEW_POINTS ? 90 : 36, opacity: 1 },
    transform: [{ filter: { field: 'series', equal: name } }],
    encoding: {
      x: { field: 'x', type: 'quantitative', title: chart.xTitle, scale },
      y: { field: 'y', type: 'quantitative', title: chart.yTitle, scale },
      color: {
        field: 'series',
        type: 'nominal',
        title: null,
        // Beside the chart long names would be cut off.
        legend: { orient: 'bottom', columns: 2, labelLimit: 0 },
        scale: { domain: names, range: coloursOf(chart.series) },
      },
    },
  }));
  return {
    $schema: 'https://vega.github.io/schema/vega-lite/v6.json',
    title: { text: chart.title, subtitle: fold(chart.subtitle ?? '', SUBTITLE_CHARS, '').split('\n') },
    width: 720,
    height: 360,
    background: 'white',
    data: { values },
    layer,
  };
}

/** In the order of the series, points and lines each from their own colours. */
function coloursOf(series: readonly Series[]): string[] {
  const used = { line: 0, points: 0 };
  return series.map(({ mark }) => {
    const colours = mark === 'line' ? LINE_COLOURS : POINT_COLOURS;
    const colour = colours[used[mark] % colours.length]!;
    used[mark] += 1;
    return colour;
  });
}

/** Draws a chart into a file, replacing what was there. @throws InputError when it cannot be written */
export async function writePlot(file: string, chart: Chart): Promise<void> {
  const svg = await specToSvg(chartSpec(chart));
  writeOut(file, `${svg}\n`);
}
