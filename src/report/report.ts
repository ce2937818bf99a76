/**
 * The report on one audited journal: a single HTML file that works without network and without script, prints on A4,
 * and can be read in black and white. Pure: it takes what an audit found and gives a text.
 */
import { altOf } from '../paper/alt.js';
import { figureSpec } from '../paper/chart-spec.js';
import { type Html, html } from '../paper/html.js';
import { documentOf, image } from '../paper/page.js';
import { specToSvg } from '../paper/svg.js';
import { type Figure, sessionFigures, tripFigures, waveFigure } from './figures.js';
import type { ReportInput } from './input.js';
import { integrity } from './integrity.js';
import { caution, facts, nearest, verdict } from './summary.js';
import * as tables from './tables.js';
import { decidedUpTo, when } from './words.js';

export type { ReportInput } from './input.js';

export async function reportOf(input: ReportInput): Promise<string> {
  const { audit, notice, software, madeMs, file } = input;
  const rig = audit.header?.rig ?? null;
  const title = `Audit of a charge session${rig === null ? '' : `: ${rig}`}`;
  const body = html`<header>
<h1>${title}</h1>
${caution(notice)}${guarded('verdict', () => verdict(input))}</header>
<main>
<section id="summary" aria-label="Summary">
${guarded('summary', () => facts(input))}<div class="wide">${guarded('nearest limits', () => nearest(input))}</div><nav aria-label="Contents">${CONTENTS.map(([id, name]) => html`<a href="#${id}">${name}</a> `)}</nav>
</section>
${await plots(input)}<section id="tables">
<h2>Tables</h2>
${sections(input)}</section>
${guarded('integrity', () => integrity(audit))}</main>
<footer class="end">
${caution(notice)}<p>Made ${when(madeMs)} (UTC) by ${software} from <code>${file}</code>. Times are monotonic, counted from the first record.</p>
</footer>
`;
  return documentOf(title, body);
}

const CONTENTS = [
  ['session', 'Over the session'],
  ['trip', 'Around the trip'],
  ['tables', 'Tables'],
  ['integrity', 'What this record proves'],
] as const;

/** A damaged record may hold anything where a figure is expected: what cannot be laid out is said, the rest is shown. */
function guarded(what: string, make: () => Html): Html {
  try {
    return make();
  } catch (error) {
    return notLaidOut(what, error);
  }
}

async function guardedFigures(what: string, make: () => readonly Figure[]): Promise<readonly Html[]> {
  try {
    const all: Html[] = [];
    for (const figure of make()) all.push(await draw(figure));
    return all;
  } catch (error) {
    return [notLaidOut(what, error)];
  }
}

function notLaidOut(what: string, error: unknown): Html {
  const why = error instanceof Error ? error.message : String(error);
  return html`<p><strong>This part (${what}) cannot be laid out: the record does not hold what belongs there (${why}).</strong></p>
`;
}

function sections({ audit, collected }: ReportInput): Html[] {
  const parts: readonly (readonly [string, () => Html])[] = [
    ['Phases', () => tables.phases(collected)],
    ['Limits that governed', () => tables.governed(collected)],
    ['Refusals', () => tables.refusals(audit)],
    ['Events', () => html`${tables.events(audit)}${tables.divergence(audit)}`],
    ['Nearest limits', () => tables.margins(audit)],
    ['Proofs made', () => tables.proofs(audit)],
    ['Extremes', () => tables.extremes(audit)],
  ];
  return parts.map(
    ([name, make]) => html`<h3>${name}</h3>\n<div class="wide">${guarded(name, make)}</div>\n`,
  );
}

async function plots(input: ReportInput): Promise<Html> {
  const { collected } = input;
  const leftOut =
    collected.marksLeftOut > 0
      ? html` ${collected.marksLeftOut} more findings and refusals are not marked.`
      : '';
  const anew = decidedUpTo(input.audit);
  const upTo =
    anew === '' ? '' : ` What is decided anew (least limit, measured isolation):${anew.toLowerCase()}`;
  const session = await guardedFigures('figures of the session', () => sessionFigures(collected));
  const around = await guardedFigures('figures around the trip', () => tripFigures(collected));
  const wave = await guardedFigures('samples of the pilot current', () => waveFigure(collected));
  const noWave = html`<p>No device sent samples of the pilot current (<code>wave</code> lines): its features stand for them.</p>
`;
  const trip =
    collected.tripMs === null
      ? html`<p>Nothing tripped in this record: there is no moment to look at closely.</p>
`
      : around;
  return html`<section id="session" class="page">
<h2>Over the session</h2>
<p class="legend">One time axis for all. Bands: phases, numbered as in the table of phases and named where there is room. ▼ finding, ✚ refusal, thick line: trip. Each line is named at its end, beside a piece of it; long thin dashes are limits.${leftOut}${upTo}</p>
${session}</section>
<section id="trip">
<h2>Around the trip</h2>
${trip}${wave.length > 0 ? wave : collected.tripMs === null ? '' : noWave}</section>
`;
}

async function draw(figure: Figure): Promise<Html> {
  const { id, title, caption, chart, otherwise } = figure;
  const spec = figureSpec(chart);
  const shown = spec === null ? html`<p>${otherwise}</p>` : image(await specToSvg(spec), altOf(figure));
  return html`<figure id="fig-${id}">
<figcaption><strong>${title}</strong>${caption === '' ? '' : ` ${caption}`}</figcaption>
${shown}
</figure>
`;
}
