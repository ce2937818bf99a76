/** The supervisor itself fails in the middle of a session: the devices are told, the latch is set. */
import { describe, expect, it } from 'vitest';
import { CHECKS } from '../../src/checks/index.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { LatchFile } from '../../src/journal/latch.js';
import { hashOnly, type Sealer } from '../../src/journal/writer.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';
import { examine } from '../unit/journal/build.js';
import { recorded } from '../unit/journal/recorded.js';

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

describe('a key that fails while current flows', () => {
  const scenario = { ...loadScenario('short-top-up'), wish: { targetEnergyKwh: 5 } };
  /** Fails with the seal in which the check fails too, or a while before it. */
  const failing =
    (from: { now: boolean }): Sealer =>
    (previous, block) => {
      if (from.now) throw new Error('the key cannot be used');
      return hashOnly(previous, block);
    };
  it('trips for its journal, gets safe, and writes everything down', async () => {
    const from = { now: false };
    const run = await recorded({
      loaded: loadRig('depot-cable'),
      scenario,
      signing: { sealer: failing(from), key: 'a key' },
      checks: CHECKS.map((check) => ({
        ...check,
        run: (...given: Parameters<typeof check.run>) => {
          if (given[1].phase === 'holding') from.now = true;
          return check.run(...given);
        },
      })),
    });
    expect(run.fault).toBeNull();
    expect(run.outcome.trip?.code).toBe('journal-failed');
    expect(run.exit).toBe(3);
    expect(run.truth.poles).toEqual({ p: false, n: false, pre: false });
    expect(run.text).toMatch(/"k":"trip","b":\{"code":"journal-failed"/);
    expect(run.text).toMatch(/"k":"end"/);
    expect(examine(run.text).row).toBe('unsealed-end');
  });
  it('in the very panic of another failure: every device is told, and the record holds it', async () => {
    const from = { now: false };
    const run = await recorded({
      loaded: loadRig('depot-split'),
      scenario,
      signing: { sealer: failing(from), key: 'a key' },
      checks: CHECKS.map((check, i) => ({
        ...check,
        run: (...given: Parameters<typeof check.run>) => {
          if (i === 5 && given[1].phase === 'holding') {
            from.now = true;
            throw new Error('a fault in a check');
          }
          return check.run(...given);
        },
      })),
    });
    expect(run.fault?.message).toBe('a fault in a check');
    expect(run.outcome.trip?.code).toBe('internal-fault');
    expect(run.truth.poles).toEqual({ p: false, n: false, pre: false });
    const told = run.text.match(/"k":"order","b":\{"port":\d,"seq":\d+,"orders":\[\{"name":"make-safe"/g);
    expect(told?.length).toBeGreaterThanOrEqual(2);
    expect(run.text).toMatch(/"k":"fault","b":\{"why":"a fault in a check"\}/);
    expect(run.text).toMatch(/"k":"end"/);
  });
});
