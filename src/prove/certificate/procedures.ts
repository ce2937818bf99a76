/** A procedure and its steps: what was under proof, who acted first, figures against limits, deviations, plots. */
import { figure } from '../../host/words.js';
import { type Html, html } from '../../paper/html.js';
import type { MeasureResult, ProcedureResult, StepResult } from '../proof.js';
import { says } from './shapes.js';
import { strips } from './strip.js';
import { tripPlot } from './trip-plot.js';
import { limitsOf, meaningOf, recordOf, times, worstOf } from './words.js';

export async function procedureSection(procedure: ProcedureResult, no: number): Promise<Html> {
  const { name, title, why, verdict, steps } = procedure;
  const parts: Html[] = [];
  for (const [i, step] of steps.entries()) parts.push(await stepSection(step, `${no}.${i + 1}`));
  const [first = html``, ...others] = parts;
  return html`<section class="procedure" id="procedure-${no}">
<div class="together"><h2>${says(verdict)}${no} ${title}</h2>
<p>${why} <span class="name">Procedure <code>${name}</code>.</span></p>
${first}</div>
${others}</section>
`;
}

/** Of those that deviate; the others are counted. */
const MOST_RUNS_TOLD = 5;

const MUST: Readonly<Record<StepResult['protection']['by'], string>> = {
  'hard-wired': 'a hard-wired relay, before anybody else',
  device: 'the device by its own firmware, before the supervisor',
  supervisor: 'the supervisor, by its order',
  regulation: 'nobody: regulation holds the figure',
};

async function stepSection(result: StepResult, no: string): Promise<Html> {
  const { step, title, protection, verdict, runs } = result;
  const head = html`<h3>${says(verdict)}${no} ${title} <code>${step}</code></h3>\n`;
  if (runs === 0) {
    const why =
      verdict === 'not-applicable'
        ? 'Not applicable: this rig has not what the step is about.'
        : 'No run of this step was made: nothing is shown.';
    return html`<section class="step" id="step-${no}">
${head}<p>${why} Under proof would be ${protection.name}.</p></section>
`;
  }
  const first = Object.entries(result.first)
    .map(([who, n]) => `${who} (${n} of ${times(runs, 'run')})`)
    .join(', ');
  return html`<section class="step" id="step-${no}">
${head}<p class="who"><b>Under proof:</b> ${protection.name}. <b>Must act:</b> ${MUST[protection.by]}. <b>Evidence:</b> ${protection.evidence}. <b>Acted first:</b> ${first}.</p>
${figures(result)}${deviations(result)}${await strips(result, no)}${await tripPlot(result, no)}</section>
`;
}

const HEAD = ['figure', 'limit', 'n', 'min', 'median', '95 %', 'max', 'unc.', 'worst', 'verdict'] as const;
const WIDTHS = [25, 11.5, 5, 8, 8, 8, 8, 6.5, 8, 12] as const;
const RIGHT: readonly boolean[] = HEAD.map((_, i) => i >= 2 && i <= 8);

function figures({ measures, title }: StepResult): Html {
  if (measures.length === 0) return html``;
  return html`<div class="wide"><table class="figures" aria-label="Figures: ${title}">
<colgroup>${WIDTHS.map((w) => html`<col style="width:${w}%">`)}</colgroup>
<thead><tr>${HEAD.map((h, i) => html`<th scope="col"${RIGHT[i] ? html` class="right"` : ''}>${h}</th>`)}</tr></thead>
${measures.map(rowsOf)}</table></div>
`;
}

const sentence = (text: string): string => (text === '' ? '' : `${text[0]?.toUpperCase()}${text.slice(1)}. `);

function rowsOf(m: MeasureResult): Html {
  const { spread, uncertainty, worst, verdict, values } = m;
  const cells: readonly (string | Html)[] = [
    html`<strong>${m.name}</strong>${m.unit === '' ? '' : `, ${m.unit}`}`,
    limitsOf(m).join(' '),
    `${spread?.n ?? 0}${(spread?.n ?? 0) < values.length ? ` of ${values.length}` : ''}`,
    ...[spread?.min, spread?.median, spread?.p95, spread?.max].map((v) => figure(v ?? null)),
    figure(uncertainty, 2),
    html`<strong>${worstOf(m)}</strong>`,
    says(verdict),
  ];
  const where = worst === null ? `${worstOf(m) === 'not seen' ? 'Not seen' : 'Not bounded'} in` : 'Worst in';
  return html`<tbody>
<tr class="what">${cells.map((c, i) => html`<td${RIGHT[i] ? html` class="right"` : ''}>${c}</td>`)}</tr>
<tr class="source"><td colspan="${HEAD.length}">${sentence(meaningOf(m))}Limit: ${m.source === '' ? 'no source' : m.source}. ${where} <code>${m.journal}</code>, ${recordOf(m.n)}.</td></tr>
</tbody>
`;
}

/** Run by run: what went wrong in one run belongs together. */
function deviations({ deviations: list, moreDeviations }: StepResult): Html {
  if (list.length === 0) return html``;
  const runs = [...new Set(list.map((d) => d.repeat))].map((repeat) =>
    list.filter((d) => d.repeat === repeat),
  );
  const shown = runs.slice(0, MOST_RUNS_TOLD);
  const left = list.length + moreDeviations - shown.flat().length;
  const more =
    left > 0 ? html`<li>and ${times(left, 'deviation')} more, in <code>runs.ndjson</code></li>` : '';
  return html`<div class="deviations"><strong>Deviations</strong>
<ul>${shown.map((all) => html`<li>run ${all[0]?.repeat ?? ''}, <code>${all[0]?.journal ?? ''}</code>: ${all.map((d) => d.text).join('; ')}</li>`)}${more}</ul></div>
`;
}
