/** Every shipped scenario at its own instant, as one test each; split over files so that both cores work. */
import { describe, expect, it } from 'vitest';
import { runTask } from '../../src/cli/scenario-run.js';
import { shippedScenarios } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';

/** The longest taper takes a minute where the machine is shared. */
const LONG = { timeout: 120_000 };

/** One in so many is audited here, all of them in `npm run scenarios`. */
const AUDITED = 6;

export function scenarioSuite(part: number, parts: number): void {
  describe(`scenarios, part ${part + 1} of ${parts}`, () => {
    const mine = shippedScenarios().filter((_, i) => i % parts === part);
    it.each(mine.map((name, i) => ({ name, i })))(
      '$name ends as declared, and as the truth of the bench permits',
      LONG,
      async ({ name, i }) => {
        await withTemporaryFolder(async (folder) => {
          const { wrong } = await runTask({ name, variation: 0, folder, audited: i % AUDITED === 0 });
          expect(wrong).toEqual([]);
        });
      },
    );
  });
}
