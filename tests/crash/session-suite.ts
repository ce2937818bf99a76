/** Whole sessions over pseudo-terminals between separate processes, in real time, on the rigs as shipped. */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { expect, it } from 'vitest';
import { Audit } from '../../src/audit/audit.js';
import { SOFTWARE } from '../../src/host/version.js';
import type { Outcome } from '../../src/supervisor/outcome.js';
import { loopwarden, outcomeOf, Process, ptyDevice, temporaryFolder } from '../cli/process.js';
import { durability, expectEnd, ofKind, readJournal } from './read-journal.js';

const TIMES = { timeout: 90_000 };
/** Full while the session is under way: its journal becomes some three times as large. */
const DISK_KIB = 150;
const LITTLE = ['--target-energy-kwh', '0.05'];

const nameAndTime = expect.objectContaining({ name: expect.any(String), atS: expect.any(Number) });

function expectShape(o: Outcome): void {
  expect(o).toMatchObject({
    outcome: expect.stringMatching(/^(released|tripped|refused)$/),
    endReason: expect.any(String),
    endState: {
      provenDead: expect.any(Boolean),
      polesProvenOpen: expect.any(Boolean),
      outputDead: expect.any(Boolean),
      plugDead: expect.any(Boolean),
      plugLocked: expect.any(Boolean),
    },
    refusals: expect.any(Array),
    durationS: expect.any(Number),
    energyToBatteryKwh: expect.any(Number),
    energyFromSupplyKwh: expect.any(Number),
    lossesKwh: expect.any(Object),
    peakCurrentA: expect.any(Number),
    peakRampAPerS: expect.any(Number),
    socStart: expect.any(Number),
    socEnd: expect.any(Number),
    journal: expect.any(String),
  });
  expect(o).toHaveProperty('trip');
  expect(o).toHaveProperty('residualVoltageAtReleaseV');
  for (const figure of Object.values(o.lossesKwh)) expect(figure).toEqual(expect.any(Number));
  for (const phase of o.phases) expect(phase).toEqual(nameAndTime);
  for (const b of o.bindingLimits) {
    expect(b).toEqual({ limit: expect.any(String), fromS: expect.any(Number), toS: expect.any(Number) });
    expect(b.toS).toBeGreaterThanOrEqual(b.fromS);
  }
}

export function wholeSessions(): void {
  it.concurrent('is released, says what it did, and leaves a record that holds', TIMES, async () => {
    const state = temporaryFolder();
    const out = temporaryFolder();
    const { ports } = await ptyDevice(['--scenario', 'short-top-up']);
    const ended = await loopwarden([
      ...['run', '--rig', 'depot-cable', '--port', ports[''] as string, '--by', 'tester'],
      ...['--state', state, '--out', out, '--json', ...LITTLE],
    ]);
    expect(ended).toMatchObject({ code: 0, stderr: '' });
    const outcome = outcomeOf(ended);
    expectShape(outcome);
    expect(outcome).toMatchObject({
      outcome: 'released',
      endReason: 'target',
      endState: {
        provenDead: true,
        polesProvenOpen: true,
        outputDead: true,
        plugDead: true,
        plugLocked: false,
      },
      trip: null,
      refusals: [],
      journal: path.join(out, readdirSync(out)[0] as string),
    });
    expect(outcome.energyToBatteryKwh).toBeGreaterThanOrEqual(0.05);
    expect(outcome.energyToBatteryKwh).toBeLessThan(0.1);
    expect(outcome.energyFromSupplyKwh).toBeGreaterThan(outcome.energyToBatteryKwh);
    expect(outcome.peakCurrentA).toBeLessThan(300);
    expect(outcome.socEnd).toBeGreaterThan(outcome.socStart as number);
    expect(outcome.residualVoltageAtReleaseV).toBeLessThan(60);
    expect(outcome.phases.map((p) => p.name)).toEqual([
      ...['securing', 'proving-presence', 'checking-isolation', 'joining-train', 'matching-voltage'],
      ...['closing', 'ramping', 'ramping-down', 'opening', 'parting-train', 'bleeding', 'released'],
    ]);

    const { lines } = readJournal(outcome.journal);
    expect(lines[0]).toMatchObject({
      k: 'header',
      b: { format: 'loopwarden-journal', version: 1, rig: 'depot-cable', clock: 'real', by: 'tester' },
    });
    expect(ofKind(lines, 'seal').length).toBeGreaterThan(3);
    expectEnd(lines, outcome);
    // In real time as in virtual: decided anew, every line comes out the same.
    const audit = new Audit({ software: SOFTWARE });
    audit.feed(readFileSync(outcome.journal));
    expect(audit.end()).toMatchObject({
      row: 'clean',
      diverged: false,
      invariantsBroken: [],
      clockSteps: [],
    });
    const { wrong, frames } = durability(lines);
    expect(wrong).toEqual([]);
    // At least: train contactors, rafts, converter, N, P, authority.
    expect(frames).toBeGreaterThan(5);
    expect(ofKind(lines, 'dropped')).toEqual([]);

    expect(readdirSync(state)).toEqual(['depot-cable.latch.json']);
    const latch = JSON.parse(readFileSync(path.join(state, 'depot-cable.latch.json'), 'utf8'));
    expect(latch).toMatchObject({ open: null, trip: null });
  });

  it.concurrent('prints a line per phase for people, with live figures', TIMES, async () => {
    const { ports, device } = await ptyDevice();
    const run = new Process([
      ...['run', '--rig', 'depot-cable', '--port', ports[''] as string, '--state', temporaryFolder()],
      ...LITTLE,
    ]);
    const { code, stdout, stderr } = await run.end();
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(/^LIVE DC KILLS/);
    for (const phase of ['securing', 'closing', 'ramping', 'opening', 'bleeding', 'released'])
      expect(stdout).toMatch(new RegExp(`^ +\\d+\\.\\d\\d s {2}${phase} `, 'm'));
    expect(stdout).toMatch(/ V .* A of .* kWh/);
    expect(stdout).toMatch(/RELEASED: .*\(exit 0\)/);
    expect(stdout).toMatch(/residual voltage +[\d.]+ V/);
    expect(stdout).toMatch(/binding limits +\S/);
    expect(stdout).toMatch(/journal +\//);
    // Nobody reads its line any more: it must neither fill up nor hang.
    device.signal('SIGTERM');
    expect(await device.end(10)).toMatchObject({ code: 0, stderr: '' });
  });

  it.concurrent(
    'trips and says so when its disk takes no more, and loses nothing before that',
    TIMES,
    async () => {
      const { ports } = await ptyDevice();
      const state = temporaryFolder();
      const run = new Process(
        [
          'run',
          '--rig',
          'depot-cable',
          '--port',
          ports[''] as string,
          '--state',
          state,
          '--target-energy-kwh',
          '1',
        ],
        { fileKiB: DISK_KIB },
      );
      const { code, stdout, stderr } = await run.end();
      expect({ code, stderr }).toEqual({ code: 3, stderr: '' });
      expect(stdout).toMatch(/TRIP journal-failed in \S+/);
      expect(stdout).toMatch(/the journal cannot be written/);
      const [, file = ''] = /^journal +(\S+)$/m.exec(stdout) ?? [];
      const bytes = readFileSync(file);
      expect(bytes.length).toBe(1024 * DISK_KIB);
      const audit = new Audit({ software: SOFTWARE });
      audit.feed(bytes);
      const { row, intact, diverged, seals } = audit.end();
      expect({ row, intact, diverged }).toEqual({ row: 'torn-tail', intact: true, diverged: false });
      expect(seals).toBeGreaterThan(10);
      expect(JSON.parse(readFileSync(path.join(state, 'depot-cable.latch.json'), 'utf8')).trip.code).toBe(
        'journal-failed',
      );
    },
  );

  it.concurrent('works with the roles split over two ports', TIMES, async () => {
    const { ports } = await ptyDevice(['--rig', 'depot-split']);
    expect(Object.keys(ports)).toEqual(['power', 'field']);
    const ended = await loopwarden([
      ...['run', '--rig', 'depot-split', '--state', temporaryFolder(), '--json', ...LITTLE],
      // Order on the command line does not matter: names do.
      ...['--port', `field=${ports.field}`, '--port', `power=${ports.power}`],
    ]);
    expect(ended).toMatchObject({ code: 0, stderr: '' });
    const outcome = outcomeOf(ended);
    expect(outcome).toMatchObject({ outcome: 'released', endReason: 'target' });
    const { lines } = readJournal(outcome.journal);
    expect(durability(lines).wrong).toEqual([]);
    const used = new Set(ofKind(lines, 'order').map((l) => l.b.port));
    expect([...used].filter((port) => port !== undefined).sort()).toEqual([0, 1]);
  });
}
