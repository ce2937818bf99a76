/** Ports that are not there, that are somebody else's, or that have nothing behind them. */
import { readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { openPty } from '../../simulators/pty.js';
import { realClock } from '../../src/host/clock.js';
import { SerialLink } from '../../src/link/serial.js';
import { loopwarden, outcomeOf, Process, ptyDevice, temporaryFolder } from '../cli/process.js';
import { openWire } from '../cli/wire.js';

const TIMEOUT = { timeout: 60_000 };
const NOT_THERE = '/dev/tty-that-is-not-there';

const runOn = (port: string, state = temporaryFolder()) => [
  ...['run', '--rig', 'depot-cable', '--port', port, '--state', state, '--json', '--by', 'tester'],
];

export function ports(): void {
  describe.concurrent('a port that', () => {
    it('is absent: exit 2 and one message', TIMEOUT, async () => {
      const state = temporaryFolder();
      const ended = await loopwarden(runOn(NOT_THERE, state));
      expect(ended).toMatchObject({ code: 2, stdout: '' });
      expect(ended.stderr).toMatch(/^[^\n]*tty-that-is-not-there[^\n]*there is no such port[^\n]*\n$/);
      expect(ended.stderr).not.toMatch(/ at .*:\d+/);
      // Nothing was ordered, so nothing is latched.
      expect(readdirSync(state)).not.toContain('depot-cable.latch.json');
    });

    it.each(['run', 'acknowledge', 'sim-device'])('is absent, for %s', TIMEOUT, async (command) => {
      const rig = ['--rig', 'depot-cable', '--port', NOT_THERE];
      const more = { run: [], acknowledge: ['--by', 'tester'], 'sim-device': [] }[command] as string[];
      const ended = await loopwarden([command, ...rig, ...more]);
      expect(ended.code).toBe(2);
      expect(ended.stderr).toMatch(/^[^\n]*there is no such port[^\n]*\n$/);
    });

    it('is held by another program: exit 2', TIMEOUT, async () => {
      const pty = await openPty(realClock);
      const holder = new SerialLink({ clock: realClock, port: 'other', path: pty.path, baud: 460800 });
      await holder.open({ line: () => {}, down: () => {} });
      const ended = await loopwarden(runOn(pty.path));
      expect(ended).toMatchObject({ code: 2, stdout: '' });
      expect(ended.stderr).toMatch(/^[^\n]*another program holds it[^\n]*\n$/);
      await holder.close();
      expect((await loopwarden(runOn(pty.path))).code).toBe(4);
      pty.close();
    });

    it('has nothing behind it: refused for want of a handshake', TIMEOUT, async () => {
      const pty = await openPty(realClock);
      const ended = await loopwarden(runOn(pty.path));
      expect(ended).toMatchObject({ code: 4, stderr: '' });
      expect(outcomeOf(ended)).toMatchObject({
        outcome: 'refused',
        endReason: 'no-handshake',
        refusals: [{ code: 'no-handshake', part: 'charger' }],
        trip: null,
        phases: [],
      });
      pty.close();
    });

    it('speaks something else: refused for want of a handshake', TIMEOUT, async () => {
      const pty = await openPty(realClock);
      const run = new Process(runOn(pty.path));
      // Everything that is said to it comes back, and more, without end of line.
      pty.onData((bytes) => pty.write(`${bytes}login: ${'x'.repeat(200)}`));
      expect(await run.end()).toMatchObject({ code: 4, stderr: '' });
      pty.close();
    });

    it('has a device of another make of rig behind it: refused, naming the port', TIMEOUT, async () => {
      const { ports } = await ptyDevice(['--rig', 'depot-split']);
      const ended = await loopwarden(runOn(ports.power as string));
      expect(ended.code).toBe(4);
      const { refusals } = outcomeOf(ended);
      expect(refusals.length).toBeGreaterThan(0);
      for (const r of refusals) expect(['device-limits', 'reading-stale']).toContain(r.code);
    });

    it('is left by a stop before anything was ordered: at once', TIMEOUT, async () => {
      const pty = await openPty(realClock);
      const run = new Process(runOn(pty.path));
      await new Promise<void>((resolve) => pty.onData(() => resolve()));
      run.signal('SIGINT');
      const ended = await run.end();
      expect(ended.code).toBe(4);
      expect(outcomeOf(ended)).toMatchObject({ outcome: 'refused', trip: null, phases: [] });
      pty.close();
    });
  });

  describe.concurrent('a simulated device nobody listens to', () => {
    it('neither spins nor hangs when the supervisor has left', TIMEOUT, async () => {
      const wire = await openWire();
      const device = wire.device();
      await device.says(/Answering/);
      const { device: onPty, ports } = await ptyDevice();
      // Greeted once, a device reports for ever; here nobody takes it.
      for (const port of [wire.supervisorEnd, ports[''] as string]) {
        const run = new Process(runOn(port));
        await new Promise((resolve) => setTimeout(resolve, 1500));
        run.signal('SIGKILL');
        await run.end();
      }
      await new Promise((resolve) => setTimeout(resolve, 10_000));
      for (const process of [device, onPty]) {
        process.signal('SIGTERM');
        const ended = await process.end(10);
        expect(ended.code).toBe(0);
        expect(ended.cpuS).toBeLessThan(0.6 * ended.wallS);
      }
      wire.close();
    });
  });
}
