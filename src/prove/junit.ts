/** The proof as JUnit XML, for tools that collect test results: a suite a procedure, a case a step. */
import type { Proof, StepResult } from './proof.js';

const xml = (text: string): string =>
  text.replace(/[&<>"']/g, (c) => `&#${c.charCodeAt(0)};`).replace(/[^\t\n\r -\uFFFD]/g, '?');

function caseOf(procedure: string, { step, title, verdict, deviations, measures }: StepResult): string {
  const open = `    <testcase classname="${xml(procedure)}" name="${xml(`${step}: ${title}`)}">`;
  const told = xml(deviations.map((d) => `run ${d.repeat}: ${d.text} (${d.journal})`).join('\n'));
  const inner =
    verdict === 'fail'
      ? `<failure message="failed">${told}</failure>`
      : verdict === 'inconclusive'
        ? `<error message="inconclusive: counts as not passed">${told}</error>`
        : verdict === 'not-applicable'
          ? '<skipped message="this rig has not what the step is about"/>'
          : '';
  const figures = measures
    .map(
      (m) =>
        `${m.name}: worst ${m.worst ?? 'not seen'} ${m.unit}, at most ${m.atMost ?? '-'}, at least ${m.atLeast ?? '-'}`,
    )
    .join('\n');
  return `${open}${inner}<system-out>${xml(figures)}</system-out></testcase>`;
}

export function junitOf({ procedures }: Proof): string {
  const count = (steps: readonly StepResult[], verdict: string): number =>
    steps.filter((s) => s.verdict === verdict).length;
  const suites = procedures.map(
    ({ name, steps }) =>
      `  <testsuite name="${xml(name)}" tests="${steps.length}" failures="${count(steps, 'fail')}" ` +
      `errors="${count(steps, 'inconclusive')}" skipped="${count(steps, 'not-applicable')}">\n` +
      `${steps.map((s) => caseOf(name, s)).join('\n')}\n  </testsuite>`,
  );
  return `<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="loopwarden">\n${suites.join('\n')}\n</testsuites>\n`;
}
