/** Clean sessions on both rigs, held against the simulator's own record. */
import { describe, expect, it } from 'vitest';
import { truthColumns } from '../../simulators/truth.js';
import { mostAPerS, Steepest } from '../../src/audit/invariants/i03-set-point.js';
import { Judge } from '../../src/audit/judge.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';
import type { Runner } from '../../src/supervisor/runner.js';

const ROW_MS = 10;
/** Ripple, and the slope of the noise over the window. */
const RIPPLE_SHARE = 0.02;
const WINDOW_MS = 500;

async function clean(name: string) {
  const scenario = loadScenario(name);
  const loaded = loadRig(scenario.rig);
  const columns = truthColumns(loaded.rig.battery.rafts.length);
  const judge = new Judge();
  judge.columns(columns);
  const at = (column: string): number => columns.indexOf(column);
  const rows: { tMs: number; setpointA: number; lineA: number; least: number; said: number }[] = [];
  let runner: Runner | null = null;
  const run = await withTemporaryFolder((folder) =>
    runVirtual({
      loaded,
      scenario,
      stateDir: folder,
      journalPath: 'journal',
      sink: {
        append: (text) => {
          judge.text(text);
        },
        close: async () => {},
      },
      truth: {
        everyMs: ROW_MS,
        sink: {
          row: (v) => {
            judge.row(v);
            const { setpointA: said, leastA } = runner?.session.display ?? { setpointA: 0, leastA: 0 };
            rows.push({
              tMs: v[at('tMs')] as number,
              setpointA: v[at('setpointA')] as number,
              lineA: v[at('lineA')] as number,
              least: leastA,
              said,
            });
          },
        },
      },
      onProgress: (_, r) => {
        runner = r;
      },
    }),
  );
  return { loaded, run, rows, breaches: judge.end() };
}

describe.each(['clean', 'clean-shoes', 'clean-precharge'])('%s', (name) => {
  const session = clean(name);

  it('is released with nothing tripped and nothing refused', async () => {
    const { run } = await session;
    expect(run.outcome.outcome).toBe('released');
    expect(run.outcome.trip).toBeNull();
    expect(run.outcome.refusals).toEqual([]);
  });
  it('breaks no invariant, by its journal and by the truth of the bench', async () => {
    const { breaches } = await session;
    expect(breaches).toEqual([]);
  });
  it('never says a set-point above the least limit, and the converter never holds one above the rating', async () => {
    const { rows, loaded } = await session;
    const { rig } = loaded;
    const rated = Math.min(rig.connection.ratedCurrentA, rig.converter.maxCurrentA);
    expect(rows.filter((r) => r.said > r.least + 0.005)).toEqual([]);
    expect(Math.max(...rows.map((r) => r.setpointA))).toBeLessThanOrEqual(rated + 0.01);
    expect(Math.max(...rows.map((r) => r.lineA))).toBeLessThanOrEqual(rated * (1 + RIPPLE_SHARE));
  });
  it('never ramps more steeply than the governed slope, in set-point and in current', async () => {
    const { rows, loaded } = await session;
    const { upAPerS } = loaded.rig.ramp;
    // One definition of slope for both: I3's.
    const setpoint = new Steepest();
    const current = new Steepest();
    for (const { tMs, setpointA, lineA } of rows) {
      setpoint.take(tMs, setpointA);
      current.take(tMs, lineA);
    }
    expect(setpoint.aPerS).toBeGreaterThan(0.9 * upAPerS);
    expect(setpoint.aPerS).toBeLessThanOrEqual(mostAPerS(loaded.rig));
    const rippleA = RIPPLE_SHARE * loaded.rig.connection.ratedCurrentA * (1000 / WINDOW_MS);
    expect(current.aPerS).toBeLessThanOrEqual(mostAPerS(loaded.rig) + rippleA);
  });
  it('reports the energy to the battery within 1 % of the integral at the raft terminals', async () => {
    const { run } = await session;
    const { energyToBatteryKwh } = run.outcome;
    const { energyAtRaftTerminalsKwh, energyFromSupplyKwh } = run.truth;
    expect(Math.abs(energyToBatteryKwh / energyAtRaftTerminalsKwh - 1)).toBeLessThan(0.01);
    expect(Math.abs(run.outcome.energyFromSupplyKwh / energyFromSupplyKwh - 1)).toBeLessThan(0.02);
  });
  it('frees a dead plug', async () => {
    const { run } = await session;
    expect(run.outcome.endState).toEqual({
      provenDead: true,
      polesProvenOpen: true,
      outputDead: true,
      plugDead: true,
      plugLocked: false,
    });
    expect(run.outcome.residualVoltageAtReleaseV).toBeLessThan(60);
    expect(run.truth.plugToChassisV).toBeLessThan(60);
  });
});

describe('determinism', () => {
  it('gives a byte-identical journal for the same seed, and another for another', async () => {
    const run = async (seed: number): Promise<string> => {
      const scenario = { ...loadScenario('short-top-up'), seed, wish: { targetEnergyKwh: 0.05 } };
      let journal = '';
      await withTemporaryFolder((folder) =>
        runVirtual({
          loaded: loadRig('depot-cable'),
          scenario,
          stateDir: folder,
          journalPath: 'journal',
          sink: {
            append: (text) => {
              journal += text;
            },
            close: async () => {},
          },
        }),
      );
      return journal;
    };
    const [a, b, c] = [await run(7), await run(7), await run(8)];
    expect(a.length).toBeGreaterThan(10_000);
    expect(b === a).toBe(true);
    expect(c === a).toBe(false);
  });
});
