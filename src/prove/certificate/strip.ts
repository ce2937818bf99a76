/** How the runs of a step are spread: each a tick, against the limit; for steps that were run often enough to ask. */
import { figure } from '../../host/words.js';
import { CHART_CONFIG, type Layer, LEFT, PLOT_WIDTH, RIGHT, textLayer } from '../../paper/chart-layers.js';
import { type Html, html } from '../../paper/html.js';
import { image } from '../../paper/page.js';
import { specToSvg } from '../../paper/svg.js';
import type { MeasureResult, StepResult } from '../proof.js';

/** Of fewer runs the table says all there is. */
export const LEAST_RUNS = 10;
const HEIGHT = 22;

export async function strips({ measures }: StepResult, no: string): Promise<Html[]> {
  const drawn: Html[] = [];
  for (const [k, m] of measures.entries()) {
    const spec = stripSpec(m);
    if (spec === null) continue;
    drawn.push(html`<figure id="strip-${no}-${k + 1}">
<figcaption><strong>${m.name}</strong>${m.unit === '' ? '' : `, ${m.unit}`}: ${m.spread?.n ?? 0} runs</figcaption>
${image(await specToSvg(spec), altOf(m))}
</figure>
`);
  }
  return drawn;
}

/** @returns null where there are too few runs, or every one gave the same count */
export function stripSpec(m: MeasureResult): Layer | null {
  const values = m.values.flatMap(({ value }) => (value === null ? [] : [value]));
  const limits = [m.atLeast, m.atMost].filter((x) => x !== null);
  if (values.length < LEAST_RUNS) return null;
  const all = [0, ...values, ...limits, ...(m.worst === null ? [] : [m.worst])];
  const least = Math.min(...all);
  const span = Math.max(...all) - least;
  if (span === 0) return null;
  const x = {
    field: 'x',
    type: 'quantitative',
    scale: { domain: [least, least + 1.04 * span], nice: false, zero: false },
    axis: { title: null, tickCount: 8, grid: false, format: ',~r' },
  };
  const layerOf = (at: readonly number[], mark: Layer, y: Layer): Layer => ({
    data: { values: at.map((value) => ({ x: value })) },
    mark,
    encoding: { x, ...y },
  });
  const names = [
    ...(m.atLeast === null ? [] : [`≥ ${figure(m.atLeast)}`]),
    ...(m.atMost === null ? [] : [`≤ ${figure(m.atMost)}`]),
  ];
  return {
    width: PLOT_WIDTH,
    height: HEIGHT,
    padding: { left: LEFT, right: RIGHT, top: 6, bottom: 18 },
    autosize: { type: 'none' },
    background: null,
    config: CHART_CONFIG,
    layer: [
      layerOf(
        values,
        { type: 'rule', color: '#000000', strokeWidth: 0.7, opacity: 0.75 },
        { y: { value: 5 }, y2: { value: HEIGHT - 2 } },
      ),
      layerOf(
        limits,
        { type: 'rule', color: '#000000', strokeWidth: 2.6 },
        { y: { value: -4 }, y2: { value: HEIGHT } },
      ),
      layerOf(
        m.worst === null ? [] : [m.worst],
        { type: 'point', shape: 'circle', size: 34, filled: false, color: '#000000', strokeWidth: 1.2 },
        { y: { value: HEIGHT / 2 } },
      ),
      textLayer(
        [{ text: `limit ${names.join(', ')} ${m.unit}` }],
        { x: { value: PLOT_WIDTH + 8 }, y: { value: HEIGHT / 2 } },
        { align: 'left' },
      ),
    ],
  };
}

function altOf({ name, unit, spread, worst, atMost, atLeast }: MeasureResult): string {
  const limits = [
    ...(atMost === null ? [] : [`at most ${figure(atMost)}`]),
    ...(atLeast === null ? [] : [`at least ${figure(atLeast)}`]),
  ].join(', ');
  return `${name}, ${unit}: ${spread?.n ?? 0} runs from ${figure(spread?.min ?? null)} to ${figure(spread?.max ?? null)}, worst ${figure(worst)}, limit ${limits}`;
}
