/** The plot of a run: current above, volts below, on one axis of time, with who acted when. */
import { figure } from '../../host/words.js';
import { altOf } from '../../paper/alt.js';
import type { FigureChart, Mark, Point } from '../../paper/chart.js';
import { figureSpec } from '../../paper/chart-spec.js';
import { type Html, html } from '../../paper/html.js';
import { image } from '../../paper/page.js';
import { specToSvg } from '../../paper/svg.js';
import { SAFE_V } from '../measure.js';
import type { StepResult } from '../proof.js';
import type { Trace } from '../trace.js';
import type { EventName } from '../vocabulary.js';
import { markText, recordOf, spanOf } from './words.js';

type Traced = NonNullable<StepResult['trace']>;
type Event = Traced['events'][number];

const CURRENT_PX = 66;
const VOLTS_PX = 62;
/** Noise of a current that does not flow is no event. */
const LEAST_SPAN_A = 5;
const LEAST_SHOWN_MS = 240;
/** A fault longer ago than this is not in the picture. */
const LONG_BEFORE_MS = 500;
/** Longer ones are told in seconds. */
const LONG_MS = 10_000;
const MOST_FAULTS = 3;
/** Moments worth a line; the first of each. */
const SHOWN: ReadonlySet<EventName> = new Set([
  'relay',
  'watchdog',
  'make-safe',
  'supply-tripped',
  'parted-p',
  'parted-n',
  'finding',
  'trip',
  'stop',
  'released',
]);

/** In order of time: the faults, then the first of every other kind. */
export function shownEvents({ events }: Pick<Traced, 'events'>): Event[] {
  const seen = new Set<string>();
  let faults = 0;
  return [...events]
    .sort((a, b) => a.tMs - b.tMs)
    .filter(({ name }) => {
      if (name === 'mark') return ++faults <= MOST_FAULTS;
      if (!SHOWN.has(name) || seen.has(name)) return false;
      seen.add(name);
      return true;
    });
}

const nameOf = ({ name, detail }: Event): string =>
  [markText(name), ...(name === 'finding' || name === 'trip' ? [detail] : [])].join(' ');
const timeOf = (tMs: number): string =>
  (Math.abs(tMs) >= LONG_MS ? `${figure(tMs / 1000)} s` : `${figure(tMs, 3)} ms`).replace('-', '−');
const textOf = (event: Event): string => `${nameOf(event)} ${timeOf(event.tMs)}`;

/** From shortly before what happened to shortly after the last that was timed or marked. */
export function windowOf({ trace, measures }: { trace: Trace; measures: StepResult['measures'] }): {
  from: number;
  to: number;
} {
  const { tMs, events, zero } = trace;
  const begin = tMs[0] ?? 0;
  const end = tMs.at(-1) ?? 0;
  if (end - begin > LONG_MS) return { from: begin, to: end };
  const shown = shownEvents({ events }).filter((e) => e.tMs >= -LONG_BEFORE_MS && e.tMs <= end);
  const timed = measures.flatMap(({ name, unit, spread }) => {
    const span = unit === 'ms' ? spanOf(name) : null;
    if (span === null || spread === null) return [];
    const from = events.find((e) => e.name === span.from)?.tMs ?? Number.NaN;
    return [(span.from === zero ? 0 : from) + spread.max].filter(Number.isFinite);
  });
  const last = Math.max(LEAST_SHOWN_MS, ...shown.map((e) => e.tMs), ...timed);
  const first = Math.min(0, ...shown.map((e) => e.tMs));
  const room = 0.22 * (last - first);
  // Readings may begin only after what happened at the start.
  return { from: Math.max(Math.min(begin, first - room / 4), first - room), to: Math.min(end, last + room) };
}

export async function tripPlot(result: StepResult, no: string): Promise<Html> {
  const { trace, measures, title } = result;
  if (trace === null || trace.tMs.length < 2)
    return html`<p>No plot: the record of this run holds no readings of a meter around what happened.</p>\n`;
  const { from, to } = windowOf({ trace, measures });
  const perS = to - from > LONG_MS;
  const scale = perS ? 1e-3 : 1;
  const events = shownEvents(trace);
  const marks = events
    .filter((e) => e.tMs >= from && e.tMs <= to)
    .map((e): Mark => {
      const strong = e.name === 'trip';
      const cause = e.name === 'mark';
      return {
        x: e.tMs * scale,
        text: perS ? nameOf(e) : textOf(e),
        ...(strong ? { strong } : {}),
        ...(cause ? { cause } : {}),
      };
    });
  const pointsOf = (values: readonly number[]): Point[] =>
    trace.tMs.flatMap((t, i): Point[] => (t >= from && t <= to ? [[t * scale, values[i] ?? null]] : []));
  const zero = trace.zero === 'end of the record' ? trace.zero : markText(trace.zero);
  const dots = trace.tMs.filter((t) => t >= from && t <= to).length <= 120;
  const line = (name: string, values: readonly number[]) => ({ name, points: pointsOf(values), dots });
  const common = {
    xTitle: `time from ${zero}, ${perS ? 's' : 'ms'}`,
    x: [from * scale, to * scale],
    marks,
    fromZero: true,
  } as const;
  const current: FigureChart = {
    ...common,
    part: 'upper',
    unit: 'A',
    lines: [line('current', trace.currentA)],
    leastSpan: LEAST_SPAN_A,
    height: CURRENT_PX,
  };
  const volts: FigureChart = {
    ...common,
    part: 'lower',
    unit: 'V',
    lines: [line('output', trace.outputV), line('plug', trace.plugV)],
    rules: [{ name: `${SAFE_V} V`, y: SAFE_V }],
    height: VOLTS_PX,
  };
  const drawn: Html[] = [];
  for (const [what, chart] of [
    ['Current', current],
    ['Volts', volts],
  ] as const) {
    const spec = figureSpec(chart);
    if (spec !== null) drawn.push(image(await specToSvg(spec), altOf({ title: `${what}: ${title}`, chart })));
  }
  return html`<figure id="fig-${no}">
${drawn}
<figcaption>Run ${trace.repeat}, <code>${trace.journal}</code>. ${caption(trace, events, from, to)}</figcaption>
</figure>
`;
}

/** Where each mark stands in the journal, and what lies outside the picture. */
function caption(trace: Traced, events: readonly Event[], from: number, to: number): string {
  const told = (e: Event): string => `${textOf(e)} (${recordOf(e.n)})`;
  const inside = events.filter((e) => e.tMs >= from && e.tMs <= to).map(told);
  const before = events
    .filter((e) => e.tMs < from && e.name === 'mark')
    .map((e) => `${nameOf(e)} ${figure(-e.tMs / 1000)} s earlier (${recordOf(e.n)})`);
  const every = trace.every > 1 ? ` Of the readings one in ${trace.every} is shown.` : '';
  return (
    (inside.length > 0 ? `Marks: ${inside.join(', ')}.` : 'Nothing that happened is marked.') +
    (before.length > 0 ? ` Not in the picture: ${before.join(', ')}.` : '') +
    every
  );
}
