/** The report on a planned day: one HTML file that works without network and without script. Takes no file and writes none. */
import { altOf } from '../paper/alt.js';
import { figureSpec } from '../paper/chart-spec.js';
import { type Column, type Html, html, table } from '../paper/html.js';
import { caution, documentOf, facts, image } from '../paper/page.js';
import { specToSvg } from '../paper/svg.js';
import { dayTime } from './day-clock.js';
import type { Drawn } from './day-draws.js';
import { type DayFigure, dayFigures } from './day-figures.js';
import type { DayInput } from './day-input.js';
import { balanceRows, callRows, costRows, drawnRows, type Grid, storeRows, trainRows } from './day-tables.js';
import type { DayPlan } from './plan-day.js';

export interface DayReport {
  readonly plan: DayPlan;
  readonly input: DayInput;
  readonly drawn: readonly Drawn[];
  readonly seed: number;
  readonly notice: readonly string[];
  readonly software: string;
}

const OWN =
  'A plan is reckoned with models and invented or declared figures. It permits nothing: each session is judged by itself.';
const MOST_CALLS = 200;

export async function dayReport(report: DayReport): Promise<string> {
  const { plan, input, drawn, seed, notice, software } = report;
  const { day, store, tariff, renewables } = input;
  const title = `Plan of a day: ${day.title}`;
  const body = html`<header>
<h1>${title}</h1>
${caution(notice, OWN)}${verdict(plan)}</header>
<main>
<section id="summary" aria-label="Summary">
${facts([
  [
    'Timetable',
    `${day.name}, ${dayTime(day.from)} to ${dayTime(day.until)}, ${day.trains.length} trains, steps of ${day.stepS} s, air ${day.ambientC} °C`,
  ],
  ['Store', `${store.name}: ${store.title}`],
  ['Tariff', `${tariff.name}: ${tariff.title}`],
  ['Renewables', renewables === null ? 'none' : `${renewables.name}: ${renewables.title}`],
  ...(plan.faults.length === 0
    ? []
    : [['Does not hold', html`<ul>${plan.faults.map((f) => html`<li>${f}</li>`)}</ul>`] as const]),
])}${grid('Trains', trainRows(plan), [14, 10, 10, 12, 14, 22, 18], [1, 2, 3, 4])}</section>
<section id="day">
<h2>Over the day</h2>
${await draw(dayFigures(plan, input))}</section>
<section id="store" class="page">
<h2>Store, grid and cost</h2>
${facts(storeRows(plan, input))}${grid('Cost', costRows(plan, input), [40, 30, 30], [1, 2])}${grid(
  `Energy: what comes in is what goes out, to ${plan.balance.errorShare.toExponential(0)} of it`,
  balanceRows(plan),
  [25, 20, 35, 20],
  [1, 3],
)}</section>
${drawn.length === 0 ? html`` : draws(drawn, seed, tariff.currency)}<section id="calls">
<h2>Calls</h2>
<div class="wide">${grid('Every call, as simulated', callRows(plan), [11, 13, 10, 10, 9, 9, 13, 15, 10], [2, 3, 4, 5, 6, 8])}</div></section>
</main>
<footer class="end">
${caution(notice, OWN)}<p>Made by ${software}.</p>
</footer>
`;
  return documentOf(title, body);
}

const verdict = (plan: DayPlan): Html =>
  html`<div class="verdicts"><p class="verdict${plan.feasible ? '' : ' bad'}"><span>The day as planned</span><strong>${plan.feasible ? 'works' : 'DOES NOT WORK'}</strong></p><p class="verdict"><span>Lowest train</span><strong>${(100 * Math.min(...plan.run.trains.map((t) => t.lowestSoc))).toFixed(1)} %</strong></p><p class="verdict"><span>Lowest store</span><strong>${plan.run.supply.lowestKwh.toFixed(0)} kWh</strong></p><p class="verdict"><span>Grid peak</span><strong>${plan.run.supply.peakStepKw.toFixed(0)} kW</strong></p></div>
`;

async function draw(figures: readonly DayFigure[]): Promise<Html[]> {
  const all: Html[] = [];
  for (const { id, title, text, chart } of figures) {
    const spec = figureSpec(chart);
    if (spec === null) continue;
    const svg = image(await specToSvg(spec), altOf({ title, chart }));
    all.push(html`<figure id="figure-${id}">
<figcaption><strong>${title}</strong> ${text}</figcaption>
${svg}
</figure>
`);
  }
  return all;
}

const draws = (drawn: readonly Drawn[], seed: number, currency: string): Html => html`<section id="draws">
<h2>When things go otherwise</h2>
<p>Drawn with seed ${seed}, the store charged as planned and made up under the planned peak. Three figures are what 5, 50 and 95 of a hundred days stay below; cost in ${currency}. Stops are reckoned between a few runs, not each by its own.</p>
${grid('Drawn days', drawnRows(drawn), [22, 6, 6, 6, 14, 14, 9, 13, 10], [1, 2, 3, 4, 5, 6, 7, 8])}</section>
`;

/** @param right columns of figures */
function grid(
  caption: string,
  { head, rows }: Grid,
  widths: readonly number[],
  right: readonly number[],
): Html {
  const columns = head.map(
    (name, i): Column => ({ head: name, width: widths[i]!, ...(right.includes(i) ? { right: true } : {}) }),
  );
  return table(caption, columns, rows, { most: MOST_CALLS, elsewhere: '--csv' });
}
