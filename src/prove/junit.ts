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

/** What stands against the whole: a tool that reads only this file must not take it for passed. */
const doubtsOf = (doubts: readonly string[]): string =>
  `  <testsuite name="the proof as a whole" tests="1" failures="0" errors="${doubts.length > 0 ? 1 : 0}" skipped="0">\n` +
  `    <testcase classname="proof" name="complete, by equipment in calibration">${
    doubts.length > 0
      ? `<error message="inconclusive: counts as not passed">${xml(doubts.join('\n'))}</error>`
      : ''
  }</testcase>\n  </testsuite>`;

/** @param doubts that keep the whole from having passed */
export function junitOf({ procedures }: Pick<Proof, 'procedures'>, doubts: readonly string[] = []): string {
  const count = (steps: readonly StepResult[], verdict: string): number =>
    steps.filter((s) => s.verdict === verdict).length;
  const suites = procedures.map(
    ({ name, steps }) =>
      `  <testsuite name="${xml(name)}" tests="${steps.length}" failures="${count(steps, 'fail')}" ` +
      `errors="${count(steps, 'inconclusive')}" skipped="${count(steps, 'not-applicable')}">\n` +
      `${steps.map((s) => caseOf(name, s)).join('\n')}\n  </testsuite>`,
  );
  return `<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="loopwarden">\n${[doubtsOf(doubts), ...suites].join('\n')}\n</testsuites>\n`;
}
