import { defineConfig } from 'vitest/config';
import { BaseSequencer, type TestSpecification } from 'vitest/node';

/** What takes longest comes first: begun last, one file would run while the other worker has nothing left to do. */
const LONGEST = [
  'pty-session',
  'kills',
  'scenarios-1',
  'scenarios-2',
  'cli/journals',
  'cli/plan',
  'cli/prove',
  'live-lost',
];
const rank = ({ moduleId }: TestSpecification): number => {
  const at = LONGEST.findIndex((name) => moduleId.includes(name));
  return at === -1 ? LONGEST.length : at;
};
class LongestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    return [...(await super.sort(files))].sort((a, b) => rank(a) - rank(b));
  }
}

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    // Two workers: the machines this runs on have two cores, and the pseudo-terminal tests need one to breathe.
    maxWorkers: 2,
    testTimeout: 30_000,
    sequence: { sequencer: LongestFirst },
    globalSetup: ['tests/page/browser-folder.ts'],
  },
});
