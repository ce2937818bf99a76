/** The tests that mutants of the machine and the checks are run against: quick ones, without processes or dist. */
import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/unit/checks/**/*.test.ts', 'tests/unit/gate.test.ts', 'tests/model/**/*.test.ts'],
    testTimeout: 30_000,
  },
});
