/** The tests that the mutants of one group are run against; run.mjs names them. */
import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: (process.env.MUTATION_TESTS ?? 'tests/unit/checks/*.test.ts').split(','),
    testTimeout: 60_000,
  },
});
