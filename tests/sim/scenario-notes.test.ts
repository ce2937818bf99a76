/** What the scenarios promise beyond their end: read from the truth of the bench. */
import { describe, expect, it } from 'vitest';
import { truthColumns } from '../../simulators/truth.js';
import { plugV as truePlugV } from '../../src/audit/invariants/watch.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';

async function traced(name: string) {
  const scenario = loadScenario(name);
  const loaded = loadRig(scenario.rig);
  const columns = truthColumns(loaded.rig.battery.rafts.length);
  const rows: Record<string, number>[] = [];
  let journal = '';
  const run = await withTemporaryFolder((folder) =>
    runVirtual({
      loaded,
      scenario,
      stateDir: folder,
      journalPath: 'journal',
      sink: {
        append: (text) => {
          journal += text;
        },
        close: async () => {},
      },
      truth: {
        everyMs: 1,
        sink: { row: (v) => rows.push(Object.fromEntries(columns.map((c, i) => [c, v[i] as number]))) },
      },
    }),
  );
  const faultMs = run.bench.faultLog.find((f) => f.on)?.atMs ?? Number.NaN;
  return { run, rows, faultMs, journal, rig: loaded.rig };
}
const plugV = (r: Record<string, number>): number =>
  truePlugV({ tMs: r.tMs as number, get: (column) => r[column] ?? Number.NaN });

describe('what happens besides the end', () => {
  it('plug-pulled: bare pins below 60 V within 1 s of parting (IEC 60204-1 6.2.4), loop first, latch second', async () => {
    const { run, rows, faultMs } = await traced('plug-pulled');
    const parted = rows.find((r) => (r.tMs as number) > faultMs && r.seated === 0)?.tMs as number;
    const lastLive = rows.filter((r) => plugV(r) > 60).at(-1)?.tMs as number;
    expect(lastLive - parted).toBeGreaterThan(0);
    expect(lastLive - parted).toBeLessThanOrEqual(1000);
    const codes = run.outcome.findings.map((f) => f.code);
    expect(codes.indexOf('loop-open')).toBe(0);
    expect(codes.indexOf('plug-unseated')).toBeGreaterThan(0);
  });
  it('loop-reversed: the converter is never enabled and nothing is ever live', async () => {
    const { rows, journal } = await traced('loop-reversed');
    expect(journal).not.toContain('"enable-converter"');
    expect(journal).not.toContain('"close-train"');
    expect(Math.max(...rows.map(plugV))).toBeLessThan(60);
  });
  it('converter-wont-stop: opened at the deadline within the breaking capacity, and the supply breaker tripped', async () => {
    const { run, rig } = await traced('converter-wont-stop');
    expect(run.truth.maxBrokenA).toBeLessThanOrEqual(rig.contactors.breakingCapacityA);
    expect(run.truth.poles).toEqual({ p: false, n: false, pre: false });
    expect(run.outcome.endState.outputDead).toBe(false);
  });
  it('train-contactor-welded: the plug bleeder is not held on into the pack', async () => {
    const { rows, rig } = await traced('train-contactor-welded');
    const onMs = rows.filter((r) => r.bleedPlug === 1).length;
    expect(onMs).toBeLessThanOrEqual(1000 * rig.bleeder.maxOnS + 100);
    expect(rows.at(-1)?.bleedPlug).toBe(0);
  });
  it('bleeder-dead: the plug stays locked, and is above 60 V when it says so', async () => {
    const { run, rows } = await traced('bleeder-dead');
    expect(run.truth.locked).toBe(true);
    expect(rows.every((r) => r.locked === 1 || plugV(r) < 60)).toBe(true);
  });
  it('emergency-stop: resetting the button changes nothing', async () => {
    const { run, rows } = await traced('emergency-stop');
    const reset = run.bench.faultLog.find((f) => !f.on);
    expect(run.outcome.trip?.code).toBe('stop-chain-open');
    const after = rows.filter((r) => (r.tMs as number) > (reset?.atMs ?? Number.POSITIVE_INFINITY));
    expect(after.every((r) => r.poleP === 0 && r.poleN === 0)).toBe(true);
  });
  it.each(['loop-opened', 'loop-crushed', 'isolation-one-pole-holding'])(
    '%s: never opens a contactor above its breaking capacity, never leaves the plug free',
    async (name) => {
      const { run, rows, rig } = await traced(name);
      expect(run.truth.maxBrokenA).toBeLessThanOrEqual(rig.contactors.breakingCapacityA);
      const live = rows.filter((r) => plugV(r) > 60);
      expect(live.length).toBeGreaterThan(0);
      expect(live.every((r) => r.locked === 1)).toBe(true);
    },
  );
});
