/** Prints the table of references: one row for each `reference()`, then the notes of tests that leave some. */
import type { Reporter, TestCase, TestModule } from 'vitest/node';
import { figure, paint, table } from '../../src/cli/print.js';
import type { ReferenceRow } from './reference.js';

const write = (text: string): void => {
  process.stdout.write(`${text}\n`);
};

/** Small figures need an exponent to be read at all. */
const shown = (value: number | null): string => {
  if (value === null) return '–';
  return value !== 0 && Math.abs(value) < 1e-3 ? value.toExponential(3) : figure(value, 6);
};

/** Deviation in the unit, and how much of what is allowed it uses. */
function used(row: ReferenceRow): string {
  if (row.deviation === null) return '–';
  const share = row.allowed > 0 ? `${((100 * Math.abs(row.deviation)) / row.allowed).toFixed(0)} %` : 'exact';
  return `${shown(row.deviation)} (${share} of allowed)`;
}

export default class TableReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], errors: readonly { message: string }[]): void {
    const tests = modules.flatMap((m) => [...m.children.allTests()]);
    const rows = tests.flatMap((t) => {
      const row = t.meta().reference;
      return row === undefined ? [] : [{ row, test: t }];
    });
    if (rows.length > 0) {
      write(
        table(
          ['', 'quantity', 'unit', 'ours', 'reference', 'deviation', 'tolerance', 'trust', 'source'],
          rows.map(({ row, test }) => [
            passed(test) ? paint('green', '✓') : paint('red', '✗'),
            row.quantity,
            row.unit,
            shown(row.ours),
            shown(row.reference),
            used(row),
            row.tolerance,
            row.trust,
            row.source,
          ]),
          [3, 4],
        ),
      );
    }
    for (const test of tests) {
      const notes = test.meta().notes;
      if (notes !== undefined) write(`\n${paint('bold', test.name)}\n${notes.join('\n')}`);
    }
    this.#failures(modules, tests, errors);
    const failed = tests.filter((t) => !passed(t)).length;
    write(`\n${rows.length} references, ${tests.length - rows.length} other tests, ${failed} failed`);
  }

  #failures(
    modules: readonly TestModule[],
    tests: readonly TestCase[],
    errors: readonly { message: string }[],
  ): void {
    for (const test of tests) {
      for (const error of test.result().errors ?? [])
        write(`\n${paint('red', test.fullName)}\n${error.message}`);
    }
    // A file that fails to load has no tests to fail.
    for (const error of [...modules.flatMap((m) => [...m.errors()]), ...errors])
      write(`\n${paint('red', error.message)}`);
  }
}

const passed = (test: TestCase): boolean => test.result().state === 'passed';
