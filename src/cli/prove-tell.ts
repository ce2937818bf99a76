/** What a proof came to, for people: each step with its figures, limits, who acted first, and the verdict. */
import type { ResultsHeader } from '../campaign/results.js';
import type { Proof, StepResult } from '../prove/proof.js';
import type { RunRecord } from '../prove/record.js';
import { type Verdict, VERDICT_TEXT as WORDS, worstOf } from '../prove/verdict.js';
import { EXIT } from '../supervisor/outcome.js';
import { figure, paint, say, table } from './print.js';

const EXITS: Readonly<Record<Verdict, number>> = {
  pass: EXIT.released,
  'not-applicable': EXIT.inconclusive,
  inconclusive: EXIT.inconclusive,
  fail: EXIT.requirementFailed,
};
export const exitOfVerdict = (verdict: Verdict): number => EXITS[verdict];

const STYLE = { pass: 'green', fail: 'red', inconclusive: 'yellow', 'not-applicable': 'dim' } as const;
const word = (verdict: Verdict): string => paint(STYLE[verdict], WORDS[verdict]);

/** @param doubts what stands against the whole, whatever its steps came to */
export function tellProof(proof: Proof, doubts: readonly string[] = []): void {
  for (const { name, title, steps } of proof.procedures) {
    say(`${paint('bold', name)}  ${title}`);
    const head = ['step', 'measured', 'worst', 'limit', 'n', 'acted first', 'verdict'];
    say(table(head, steps.flatMap(rowsOf), [2, 3, 4]));
    for (const s of steps)
      for (const d of s.deviations.slice(0, 3)) say(paint('red', `  ${s.step}, run ${d.repeat}: ${d.text}`));
    say();
  }
  for (const doubt of doubts) say(paint('yellow', doubt));
  const { missing, verdict } = proof;
  const left = missing > 0 ? `; ${missing} runs are not done` : '';
  say(`${paint(STYLE[verdict], WORDS[verdict].toUpperCase())}: ${countsOf(proof)}${left}`);
}

function countsOf({ procedures }: Proof): string {
  const steps = procedures.flatMap((p) => p.steps);
  const of = (verdict: Verdict): number => steps.filter((s) => s.verdict === verdict).length;
  return (['pass', 'fail', 'inconclusive', 'not-applicable'] as const)
    .filter((v) => of(v) > 0)
    .map((v) => `${of(v)} ${WORDS[v].toLowerCase()}`)
    .join(', ');
}

function rowsOf({ step, measures, first, verdict, runs }: StepResult): string[][] {
  const who = Object.entries(first)
    .map(([name, times]) => (times === runs ? name : `${name} (${times})`))
    .join(', ');
  if (measures.length === 0) return [[step, '', '', '', '', '', word(verdict)]];
  return measures.map((m, k) => [
    k === 0 ? step : '',
    m.name,
    m.worst === null ? 'not seen' : `${figure(m.worst)} ${m.unit}`,
    [
      ...(m.atMost === null ? [] : [`≤ ${figure(m.atMost)}`]),
      ...(m.atLeast === null ? [] : [`≥ ${figure(m.atLeast)}`]),
    ].join(' '),
    String(m.spread?.n ?? 0),
    k === 0 ? who : '',
    k === 0 ? word(verdict) : '',
  ]);
}

/**
 * Merged runs without the rig and the procedures beside them: how many of each step came to what. The certificate is
 * made by `prove --out` on the folder they lie in.
 */
export function tellMergedProof(
  header: ResultsHeader,
  runs: readonly RunRecord[],
  { json }: { readonly json: boolean },
): number {
  const verdict = worstOf(runs.map((run) => run.verdict));
  const steps = new Map<string, RunRecord[]>();
  for (const run of runs) {
    const name = `${run.procedure}/${run.step}`;
    steps.set(name, [...(steps.get(name) ?? []), run]);
  }
  const rows = [...steps].map(([name, of]) => ({
    name,
    runs: of.length,
    verdict: worstOf(of.map((r) => r.verdict)),
  }));
  if (json) say(JSON.stringify({ ...header, verdict, steps: rows }));
  else {
    say(
      table(
        ['step', 'runs', 'verdict'],
        rows.map((r) => [r.name, String(r.runs), word(r.verdict)]),
        [1],
      ),
    );
    say();
    say(
      `${paint(STYLE[verdict], WORDS[verdict].toUpperCase())}: ${runs.length} runs of ${rows.length} steps`,
    );
    say(
      'certificate: put the merged file as runs.ndjson beside the journals, and give that folder to `prove --out`',
    );
  }
  return exitOfVerdict(verdict);
}
