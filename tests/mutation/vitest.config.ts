/** The tests that the mutants of one group are run against, in the order in which run.mjs names them. */
import path from 'node:path';
import { defineConfig } from 'vitest/config';
import { BaseSequencer, type TestSpecification } from 'vitest/node';

const tests = (process.env.MUTATION_TESTS ?? 'tests/unit/checks/*.test.ts').split(',');

/** A mutant is run until a first test fails: what is quick and decisive saves what comes after it. */
class AsNamed extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const place = ({ moduleId }: TestSpecification): number =>
      tests.indexOf(path.relative(process.cwd(), moduleId).split(path.sep).join('/'));
    return [...files].sort((a, b) => place(a) - place(b));
  }
}

export default defineConfig({
  test: { include: tests, testTimeout: 60_000, sequence: { sequencer: AsNamed } },
});
