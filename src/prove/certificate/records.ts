/** Every run with its journal and that file's hash, and the record each of its figures rests on. */
import { withUnit } from '../../host/words.js';
import { type Html, html, table } from '../../paper/html.js';
import type { DatedProof } from '../calibration.js';
import type { StepResult } from '../proof.js';
import { recordOf } from './words.js';

/** A proof of thousands of runs has its whole list in the record beside it. */
const MOST_RUNS_OF_STEP = 60;

export function records({ procedures }: DatedProof): Html {
  const steps = procedures.flatMap((p) => p.steps.map((step) => ({ p, step })));
  const rows = steps.flatMap(({ step }) => rowsOf(step));
  const leftOut = steps.reduce((sum, { step }) => sum + step.journals.length, 0) - rows.length;
  return html`<section id="records" class="page">
<h2>Journals, and the record each figure rests on</h2>
<p>Each run is one journal, in the folder of this file. A line of a journal is a record; its number is the field <code>n</code>. Whoever doubts a figure finds it there: <code>sha256sum</code> tells whether the file is the one that was judged, <code>loopwarden audit</code> whether it is whole. The same stands in <code>proof.json</code> and <code>runs.ndjson</code>, for programs.</p>
<div class="wide">${table(
    'Runs',
    [
      { head: 'journal', width: 29, code: true },
      { head: 'SHA-256 of the file', width: 34, code: true },
      { head: 'figures, and where they stand', width: 37 },
    ],
    rows,
    { most: Math.max(1, rows.length), leftOut, elsewhere: 'runs.ndjson' },
  )}</div></section>
`;
}

function rowsOf(step: StepResult): string[][] {
  const named = new Set([
    ...step.measures.map((m) => m.journal),
    ...step.deviations.map((d) => d.journal),
    step.trace?.journal,
  ]);
  // Those the pages before refer to are never left out.
  return step.journals
    .filter(({ file }, i) => i < MOST_RUNS_OF_STEP || named.has(file))
    .map(({ repeat, file, sha256 }) => [file, sha256, figuresOf(step, repeat)]);
}

const figuresOf = ({ measures }: StepResult, repeat: number): string =>
  measures
    .flatMap(({ name, unit, values }) =>
      values
        .filter((v) => v.repeat === repeat)
        .map(({ value, n }) =>
          value === null ? `${name}: not seen` : `${name} ${withUnit(value, unit)} (${recordOf(n)})`,
        ),
    )
    .join('; ');
