/** The host of the simulated devices, in virtual and in real time. */
import { describe, expect, it } from 'vitest';
import { DeviceHost, linkEnd, ptyDevices, virtualDevices } from '../../simulators/device-host.js';
import { openPty } from '../../simulators/pty.js';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { realClock } from '../../src/host/clock.js';
import { decodeToSupervisor, encodeToDevice } from '../../src/link/codec.js';
import type { Hello, ToSupervisor } from '../../src/link/frames.js';
import type { FarEnd } from '../../src/link/memory.js';
import { SerialLink } from '../../src/link/serial.js';
import { StubPlant, stubRig } from './stub-plant.js';

const HELLO: Hello = {
  verb: 'hello',
  version: 1,
  periodMs: 100,
  watchdogMs: 300,
  maxCurrentA: 300,
  maxVoltageV: 900,
  roles: ['converter'],
};
const TWO_PORTS = [
  { name: 'charger', roles: ['converter', 'contactor'] },
  { name: 'train', roles: ['train', 'raft'] },
];
const pass = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));
const bodies = (lines: readonly string[]): ToSupervisor[] =>
  lines.flatMap((line) => {
    const decoded = decodeToSupervisor(line);
    return decoded.ok ? [decoded.frame.body] : [];
  });

describe('virtual host', () => {
  it('drives several ports on one plant, each with its own roles and beat', async () => {
    const clock = new VirtualClock();
    const plant = new StubPlant();
    const { links } = virtualDevices({ clock, plant, rig: stubRig(TWO_PORTS) });
    const heard: string[][] = [[], []];
    for (const [i, link] of links.entries()) {
      await link.open({ line: (line) => heard[i]?.push(line), down: () => {} });
      link.send(encodeToDevice('11111111', 1, HELLO));
    }
    clock.runUntil(1000);
    const reports = heard.map((lines) => bodies(lines).filter((b) => b.verb === 'report'));
    expect(reports.map((r) => r.length)).toEqual([9, 10]);
    expect(reports[0]?.[0]?.roles.train).toBeUndefined();
    expect(reports[1]?.[0]?.roles.rafts).toHaveLength(2);
    expect(reports.map((r) => (r[0]?.roles.device.clockMs ?? 0) % 100)).toEqual([0, 3]);
  });

  it('advances the plant in one go between events, and loses no millisecond', async () => {
    const clock = new VirtualClock();
    const plant = new StubPlant();
    let advances = 0;
    const advanceTo = plant.advanceTo.bind(plant);
    plant.advanceTo = (t) => {
      advances++;
      advanceTo(t);
    };
    const { links } = virtualDevices({ clock, plant, rig: stubRig() });
    await links[0]?.open({ line: () => {}, down: () => {} });
    links[0]?.send(encodeToDevice('11111111', 1, HELLO));
    clock.runUntil(60_000);
    expect(plant.nowMs).toBe(60_000);
    expect(advances).toBeLessThan(700);
  });
});

describe('real-time host', () => {
  const silentEnd: FarEnd = { send: () => true, listen: () => {} };

  it('lets time go that it was stopped for longer than a second', () => {
    // A clock that can jump, as the real one does for a stopped process.
    let nowMs = 0;
    const clock = { nowMs: () => nowMs, wallMs: () => 0, after: () => () => {} };
    const plant = new StubPlant();
    const host = new DeviceHost({ clock, plant, rig: stubRig() }, [silentEnd], 'real');
    host.start();
    nowMs = 500;
    host.catchUp();
    expect(plant.nowMs).toBe(500);
    nowMs = 60_500;
    host.catchUp();
    expect(plant.nowMs).toBe(1500);
    nowMs = 60_600;
    host.catchUp();
    expect(plant.nowMs).toBe(1600);
    host.stop();
  });

  it('serves serial links over pseudo-terminals on the beat, paced at the baud rate', async () => {
    const plant = new StubPlant();
    const { host, ptys, close } = await ptyDevices({ clock: realClock, plant, rig: stubRig(TWO_PORTS) });
    const links = ptys.map((pty, i) => {
      return new SerialLink({ clock: realClock, port: String(i), path: pty.path, baud: 921600 });
    });
    const heard: { readonly atMs: number; readonly line: string }[][] = [[], []];
    try {
      for (const [i, link] of links.entries()) {
        await link.open({
          line: (line) => heard[i]?.push({ atMs: realClock.nowMs(), line }),
          down: () => {},
        });
        link.send(encodeToDevice('11111111', 1, HELLO));
      }
      await pass(1500);
      for (const lines of heard) {
        const said = bodies(lines.map((h) => h.line));
        expect(said[0]?.verb).toBe('welcome');
        const reports = lines.slice(1);
        expect(reports.length).toBeGreaterThanOrEqual(13);
        expect(reports.length).toBeLessThanOrEqual(16);
        const gaps = reports.slice(1).map((r, i) => r.atMs - (reports[i]?.atMs ?? 0));
        expect(gaps.reduce((a, b) => a + b) / gaps.length).toBeGreaterThan(95);
        expect(gaps.reduce((a, b) => a + b) / gaps.length).toBeLessThan(105);
      }
      expect(host.devices.map((d) => d.session)).toEqual(['11111111', '11111111']);
    } finally {
      for (const link of links) await link.close();
      close();
    }
  });

  it('sits on a real port through the serial link as well', async () => {
    const pty = await openPty(realClock);
    const plant = new StubPlant();
    const link = new SerialLink({ clock: realClock, port: 'main', path: pty.path, baud: 921600 });
    const end = await linkEnd(link, () => {});
    const host = new DeviceHost({ clock: realClock, plant, rig: stubRig() }, [end], 'real');
    host.start();
    let said = '';
    pty.onData((bytes) => {
      said += bytes;
    });
    pty.write(`${encodeToDevice('11111111', 1, HELLO)}\n`);
    for (let i = 0; i < 100 && bodies(said.split('\n')).length < 3; i++) await pass(10);
    expect(bodies(said.split('\n')).map((b) => b.verb)).toEqual(['welcome', 'report', 'report']);
    host.stop();
    await link.close();
    pty.close();
  });
});
