/** A proof over pseudo-terminals: the charger on one, the fault box on another, both in another process. */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { expect, it } from 'vitest';
import { SIMULATED_IDENTITY } from '../../simulators/device.js';
import { ptyDevices } from '../../simulators/device-host.js';
import { realClock } from '../../src/host/clock.js';
import { SerialLink } from '../../src/link/serial.js';
import { loadRig } from '../../src/rig/load.js';
import { loopwarden, ptyDevice, ROOT, temporaryFolder } from '../cli/process.js';
import { patientRig } from '../cli/rigs.js';
import { StubPlant } from '../contract/stub-plant.js';

const TIMES = { timeout: 90_000 };

/** The first step of the pilot loop alone, with a limit of the test's own for the relay. */
function firstStep(withinMs: number): string {
  const text = readFileSync(path.join(ROOT, 'config/procedures/pilot-loop.yaml'), 'utf8');
  const [one = ''] = text.split(/^ {2}- step: relay-crushed$/m);
  const file = path.join(temporaryFolder(), 'one.yaml');
  const limit = `time: relay, withinMs: { value: ${withinMs}, source: "invented for this test" }`;
  // A busy machine is late in what it does, not in what the device times.
  writeFileSync(file, one.replace(/time: relay, withinMs: \{[^}]*\}/, limit));
  return file;
}

export function proofs(): void {
  it.concurrent('times the relay of a charger by its own clock', TIMES, async () => {
    const { ports } = await ptyDevice(['--rig', 'depot-cable', '--proving']);
    const out = path.join(temporaryFolder(), 'proof');
    const ended = await loopwarden([
      ...['prove', '--rig', patientRig(), '--procedure', firstStep(30), '--repeat', '1', '--by', 'tester'],
      ...['--port', ports.charger as string, '--fault-box', ports['fault-box'] as string],
      ...['--state', temporaryFolder(), '--out', out, '--json'],
    ]);
    const proof = JSON.parse(ended.stdout);
    const [step] = proof.procedures[0].steps;
    expect(step.first).toEqual({ 'hard-wired: pilot': 1 });
    const [relay] = step.measures;
    // Averaging and the relay itself: 15 ms × ln 2 and 8 ms, and a count of the clock at each end.
    expect(relay.spread.n).toBe(1);
    expect(relay.spread.min).toBeGreaterThanOrEqual(17);
    expect(relay.spread.max).toBeLessThanOrEqual(20);
    expect(relay.verdict).toBe('pass');
    // The record it stands in is there, under its number.
    const journal = readFileSync(path.join(out, relay.journal), 'utf8').split('\n');
    expect(journal[relay.n]).toContain('tag ev:');
    expect(journal[relay.n]).toContain(',relay,2');
  });

  it.concurrent('makes no run with a charger that tells no day of its calibration', TIMES, async () => {
    const loaded = loadRig('depot-cable');
    const plant = new StubPlant();
    const identity = { ...SIMULATED_IDENTITY, calibratedOn: 20260000 };
    const { ptys, close } = await ptyDevices({ clock: realClock, plant, rig: loaded.rig, identity });
    const out = path.join(temporaryFolder(), 'proof');
    const ended = await prove(ptys[0]!.path, '/dev/null', out);
    close();
    expect(ended).toMatchObject({ code: 2 });
    expect(ended.stderr).toMatch(
      /no run was made: .* says 20260000 where the day of the last calibration belongs/,
    );
    expect(existsSync(path.join(out, 'journals'))).toBe(false);
    expect(plant.diary.map(({ order }) => order.name)).not.toContain('close-p');
  });

  it.concurrent(
    'makes no run through a port that another program holds, or no fault box',
    TIMES,
    async () => {
      const { ports } = await ptyDevice(['--rig', 'depot-cable', '--proving']);
      const at = ports.charger as string;
      const held = new SerialLink({ clock: realClock, port: 'charger', path: at, baud: 115_200 });
      await held.open({ line: () => {}, down: () => {} });
      const inUse = await prove(at, ports['fault-box'] as string, path.join(temporaryFolder(), 'proof'));
      await held.close();
      expect(inUse).toMatchObject({ code: 2 });
      expect(inUse.stderr).toMatch(/port charger .*: another program holds it/);
      const absent = await prove(at, '/dev/ttyNOBODY', path.join(temporaryFolder(), 'proof'));
      expect(absent).toMatchObject({ code: 2 });
      expect(absent.stderr).toMatch(/fault-box.*\/dev\/ttyNOBODY/);
      for (const { stderr } of [inUse, absent]) expect(stderr).not.toMatch(/^\s+at /m);
    },
  );
}

const prove = (port: string, faultBox: string, out: string) =>
  loopwarden([
    ...['prove', '--rig', patientRig(), '--procedure', firstStep(30), '--repeat', '1', '--by', 'tester'],
    ...['--port', port, '--fault-box', faultBox, '--state', temporaryFolder(), '--out', out],
  ]);
