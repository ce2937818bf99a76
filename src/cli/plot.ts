/** Charts for `--plot`: a vega-lite specification becomes an SVG file, without a browser. */
import { placeError, writeDurably } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';

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
const COLOURS = ['#7f9fbf', '#b03a2e', '#1e8449', '#7d3c98', '#b9770e', '#2c3e50'];

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
  const layer = chart.series.map(({ name, mark }) => ({
    mark:
      mark === 'line'
        ? { type: 'line', strokeWidth: 1.5 }
        : { type: 'point', filled: true, size: 12, opacity: 0.6 },
    transform: [{ filter: { field: 'series', equal: name } }],
    encoding: {
      x: { field: 'x', type: 'quantitative', title: chart.xTitle, scale: { zero: false } },
      y: { field: 'y', type: 'quantitative', title: chart.yTitle, scale: { zero: false } },
      color: {
        field: 'series',
        type: 'nominal',
        title: null,
        scale: { domain: names, range: COLOURS.slice(0, names.length) },
      },
    },
  }));
  return {
    $schema: 'https://vega.github.io/schema/vega-lite/v6.json',
    title: { text: chart.title, subtitle: chart.subtitle ?? '' },
    width: 720,
    height: 360,
    background: 'white',
    data: { values },
    layer,
  };
}

/** Any vega-lite specification as SVG text. Loads vega only here: it takes longer than most commands. */
export async function specToSvg(spec: Record<string, unknown>): Promise<string> {
  const [vega, vegaLite] = await Promise.all([import('vega'), import('vega-lite')]);
  // The specification is data of ours; the library's own type for it is a union of several hundred lines.
  const compiled = vegaLite.compile(spec as unknown as Parameters<typeof vegaLite.compile>[0]).spec;
  const view = new vega.View(vega.parse(compiled), { renderer: 'none' });
  try {
    return await view.toSVG();
  } finally {
    view.finalize();
  }
}

/** Draws a chart into a file, replacing what was there. @throws InputError when it cannot be written */
export async function writePlot(file: string, chart: Chart): Promise<void> {
  const svg = await specToSvg(chartSpec(chart));
  try {
    writeDurably(file, `${svg}\n`);
  } catch (error) {
    throw error instanceof InputError ? error : placeError(file, error);
  }
}
