/** The supervisor itself fails in the middle of a session: the devices are told, the latch is set. */
import { describe, expect, it } from 'vitest';
import { CHECKS } from '../../src/checks/index.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { LatchFile } from '../../src/journal/latch.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';

describe('a check that throws while current flows', () => {
  it('makes safe, latches, and never counts as proven', async () => {
    await withTemporaryFolder(async (folder) => {
      const broken = CHECKS.map((check, i) => ({
        ...check,
        run: (
          state: unknown,
          seen: Parameters<typeof check.run>[1],
          rig: Parameters<typeof check.run>[2],
        ) => {
          if (i === 5 && seen.phase === 'holding') throw new Error('a fault in a check');
          return check.run(state, seen, rig);
        },
      }));
      const scenario = { ...loadScenario('short-top-up'), wish: { targetEnergyKwh: 5 } };
      const run = await runVirtual({
        loaded: loadRig('depot-cable'),
        scenario,
        stateDir: folder,
        journalPath: 'journal',
        sink: { append: () => {}, close: async () => {} },
        checks: broken,
      });
      expect(run.fault?.message).toBe('a fault in a check');
      expect(run.outcome.trip?.code).toBe('internal-fault');
      expect(run.outcome.endState.provenDead).toBe(false);
      expect(new LatchFile(folder, 'depot-cable').latched).toBe(true);
      // The device was told: two seconds later both poles are open and nothing flows.
      expect(run.truth.poles).toEqual({ p: false, n: false, pre: false });
      expect(Math.abs(run.truth.outputV)).toBeLessThan(60);
      expect(run.truth.locked).toBe(true);
    });
  });
});
