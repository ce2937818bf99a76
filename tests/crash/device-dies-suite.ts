/** The device, or the line to it, is lost while current flows. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { realClock } from '../../src/host/clock.js';
import { SerialLink } from '../../src/link/serial.js';
import type { Refusal } from '../../src/supervisor/outcome.js';
import {
  type Ended,
  loopwarden,
  objectOf,
  outcomeOf,
  Process,
  ptyDevice,
  temporaryFolder,
} from '../cli/process.js';
import { PATIENT, patientRig, scenarioFile } from '../cli/rigs.js';
import { openWire } from '../cli/wire.js';
import { durability, ofKind, readJournal } from './read-journal.js';

const LONG_MS = 150_000;
/** Silence, making safe in vain, and the end: all of it has bounds in the rig that add up to less. */
const ENDS_WITHIN_S = 60;
const SILENT = /^(link-silent|reading-stale|raft-silent)$/;

const latchOf = (state: string) =>
  JSON.parse(readFileSync(path.join(state, `${PATIENT}.latch.json`), 'utf8'));

function expectSilenceTrip(ended: Ended): void {
  expect(ended).toMatchObject({ code: 9, stderr: '' });
  const outcome = outcomeOf(ended);
  expect(outcome).toMatchObject({
    outcome: 'tripped',
    endReason: expect.stringMatching(SILENT),
    endState: { provenDead: false, polesProvenOpen: false, outputDead: false, plugDead: false },
    trip: {
      code: expect.stringMatching(SILENT),
      effect: 'trip-0',
      phase: 'ramping',
      atS: expect.any(Number),
      reading: expect.any(Number),
      limit: expect.any(Number),
      setting: expect.stringMatching(/^link\./),
      detectedAfterMs: expect.any(Number),
      fromInjectionMs: null,
    },
    residualVoltageAtReleaseV: null,
  });
  expect(outcome.phases.at(-1)?.name).toBe('not-proven-dead');
  // A spinning core would have used about as much as the time that passed.
  expect(ended.cpuS).toBeLessThan(0.5 * ended.wallS);
  const { lines } = readJournal(outcome.journal);
  expect(durability(lines).wrong).toEqual([]);
  expect(ofKind(lines, 'trip')).toHaveLength(1);
}

export function deviceDies(): void {
  describe.concurrent('SIGKILL of the device while current flows', () => {
    it('trips, proves nothing, lets go of the port, and holds until acknowledged', {
      timeout: LONG_MS,
    }, async () => {
      const state = temporaryFolder();
      const wire = await openWire();
      const device = wire.device();
      await device.says(/Answering/);
      const run = wire.run([], state);
      await wire.flows(run);
      device.signal('SIGKILL');
      expectSilenceTrip(await run.end(ENDS_WITHIN_S));
      expect(latchOf(state)).toMatchObject({
        open: null,
        trip: { code: expect.stringMatching(SILENT), phase: 'ramping', provenDead: false },
      });

      // The port is free again: someone else may open it.
      const other = new SerialLink({
        clock: realClock,
        port: 'other',
        path: wire.supervisorEnd,
        baud: 460800,
      });
      await other.open({ line: () => {}, down: () => {} });
      await other.close();

      // Without the device the record alone would have to vouch, and it says that nothing was proven.
      const person = ['acknowledge', '--rig', wire.rig, '--by', 'tester', '--state', state, '--json'];
      const alone = await loopwarden(person);
      expect(alone.code).toBe(4);
      expect(objectOf<{ refusals: Refusal[] }>(alone).refusals.map((r) => r.code)).toEqual([
        'not-proven-dead',
      ]);

      const fresh = wire.device();
      await fresh.says(/Answering/);
      const refused = await wire.run([], state).end();
      expect(refused.code).toBe(4);
      expect(outcomeOf(refused)).toMatchObject({
        outcome: 'refused',
        endReason: 'latched',
        trip: null,
        refusals: [
          { code: 'latched', asked: 'start', by: 'tester', part: expect.stringContaining('ramping') },
        ],
        phases: [],
      });

      const cleared = await loopwarden([...person, '--port', wire.supervisorEnd]);
      expect({ ...cleared, ...objectOf<object>(cleared) }).toMatchObject({
        code: 0,
        stderr: '',
        acknowledged: true,
        by: 'tester',
        rig: PATIENT,
        refusals: [],
      });
      expect(latchOf(state)).toMatchObject({
        trip: null,
        acknowledged: { by: 'tester' },
        owedToDevice: null,
      });

      const again = wire.run([], state);
      await wire.flows(again);
      again.signal('SIGINT');
      expect(await again.end()).toMatchObject({ code: 0 });
      wire.close();
    });

    it('trips as well where the terminal goes with the device, and spins no core', {
      timeout: LONG_MS,
    }, async () => {
      const { device, ports } = await ptyDevice();
      const state = temporaryFolder();
      const run = new Process([
        ...['run', '--rig', patientRig(), '--port', ports[''] as string, '--state', state],
      ]);
      await run.says(/ ramping .*\n(.*\n)* +ramping +[\d.]+ V +[1-9]\d/);
      device.signal('SIGKILL');
      const ended = await run.end(ENDS_WITHIN_S);
      expect(ended).toMatchObject({ code: 9, stderr: '' });
      expect(ended.stdout).toMatch(/TRIP (link-silent|reading-stale) .*in ramping/);
      expect(ended.stdout).toMatch(/KEEP AWAY/);
      expect(ended.stdout).toMatch(/NOT both poles proven open/);
      expect(ended.cpuS).toBeLessThan(0.5 * ended.wallS);
      expect(latchOf(state).trip).toMatchObject({ provenDead: false });
    });
  });

  describe.concurrent('one of two ports dies while current flows', () => {
    it.each(['power', 'field'])('%s: trips', { timeout: LONG_MS }, async (part) => {
      const folder = temporaryFolder();
      const scenario = scenarioFile(
        'depot-split',
        `{ fault: port-lost, phase: ramping, afterS: 2, part: ${part} }`,
      );
      const { ports } = await ptyDevice(['--scenario', scenario]);
      const run = new Process([
        ...['run', '--rig', patientRig('depot-split'), '--state', folder, '--json', '--by', 'tester'],
        ...['--port', `power=${ports.power}`, '--port', `field=${ports.field}`],
      ]);
      const ended = await run.end(ENDS_WITHIN_S);
      expect(ended).toMatchObject({ code: 9, stderr: '' });
      const outcome = outcomeOf(ended);
      expect(outcome).toMatchObject({
        outcome: 'tripped',
        endState: { provenDead: false },
        trip: { phase: 'ramping', effect: 'trip-0' },
      });
      // A dead field port opens the poles by its own watchdog: volts and amps may tell of it before the silence does.
      const truthful =
        part === 'field' ? ['link-silent', 'pole-volts-differ', 'meter-disagrees'] : ['link-silent'];
      expect(truthful).toContain(outcome.trip?.code);
      expect(latchOf(folder).trip).toMatchObject({ code: outcome.trip?.code, provenDead: false });
      // The other port was told to make safe all the same.
      const { lines } = readJournal(outcome.journal);
      const told = ofKind(lines, 'order')
        .filter((l) => l.b.orders.some((o: { name: string }) => o.name === 'make-safe'))
        .map((l) => l.b.port);
      expect(new Set(told)).toEqual(new Set([0, 1]));
    });
  });
}
