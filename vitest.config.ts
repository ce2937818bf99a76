import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    // Two workers: the machines this runs on have two cores, and the pseudo-terminal tests need one to breathe.
    maxWorkers: 2,
    testTimeout: 30_000,
    globalSetup: ['tests/page/browser-folder.ts'],
  },
});
