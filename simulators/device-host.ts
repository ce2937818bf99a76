/**
 * Hosts one plant and the firmware of every port on it, and drives both in steps of 1 ms. Where a port has an
 * instrument behind it, that instrument's peer stands in place of firmware.
 *
 * Virtual: one clock event per report or arriving frame; in between the plant is advanced in one go. Real: it
 * wakes about every 5 ms and catches up. A host that was stopped for longer than a second lets the rest of
 * that time go, as a stopped world would; the firmware still sees the second and its watchdog acts on it.
 */
import type { Clock } from '../src/host/clock.js';
import type { RandomSource } from '../src/host/random.js';
import { servedRoles } from '../src/link/frames.js';
import { LineGuard } from '../src/link/guard.js';
import { type Link, MAX_LINE_BYTES } from '../src/link/link.js';
import { type FarEnd, LineWire, MemoryLink, NO_TROUBLE, type Trouble } from '../src/link/memory.js';
import type { Phase } from '../src/rig/roles.js';
import type { Rig } from '../src/rig/schema.js';
import { Device, type Identity } from './device.js';
import type { Hosted, InstrumentFault, PeerKind } from './peers/peer.js';
import type { Plant } from './plant.js';
import { openPty, type Pty } from './pty.js';

const WAKE_MS = 5;
const MOST_AT_ONCE_MS = 1000;
/** Reports of the ports are spread by this, so that they do not all arrive in one instant. */
const PORT_OFFSET_MS = 3;

/** What the host asks of a plant beyond the physics; a plant without it has quiet lines. */
export interface LineFaults {
  /** What is wrong with the line of this port now. */
  lineTrouble?(port: string): Trouble;
  /** True while nothing reaches the devices. */
  deaf?(): boolean;
}
export type HostedPlant = Plant & LineFaults & { readonly phase?: Phase };

/** The far end of a line; one that can be torn off says how. */
export type HostedEnd = FarEnd & { unplug?(): void };

export interface HostOptions {
  readonly clock: Clock;
  readonly plant: HostedPlant;
  readonly rig: Rig;
  /** Draws line noise; without it lines are quiet. */
  readonly random?: RandomSource;
  /** Names of ports whose device comes up latched. */
  readonly latchedPorts?: readonly string[];
  readonly identity?: Identity;
  /** Faults: see DeviceOptions. */
  readonly watchdogLate?: number;
  readonly forgetsLatch?: boolean;
  /** Simulated instruments, by the name of their port; the firmware of a device on every other one. */
  readonly instruments?: ReadonlyMap<string, Hosting>;
}

/** An instrument and what is to go wrong with it. */
export interface Hosting {
  readonly kind: PeerKind;
  readonly faults: readonly InstrumentFault[];
}

const troubleOf = (plant: HostedPlant, port: string) => () => plant.lineTrouble?.(port) ?? NO_TROUBLE;

export class DeviceHost {
  /** Firmware alone, in the order of the rig. */
  readonly devices: readonly Device[];
  readonly #hosted: readonly Hosted[];
  /** Clock time of the plant's zero; moves on by what is let go. */
  private originMs: number;
  private doneMs: number;
  private cancelWake: () => void = () => {};
  private wakeAtMs = Number.POSITIVE_INFINITY;
  private stopped = true;

  /** @param ends the device's end of each port, in the order of the rig */
  constructor(
    private readonly options: HostOptions,
    ends: readonly HostedEnd[],
    private readonly pace: 'virtual' | 'real',
  ) {
    const { clock, plant, rig } = options;
    this.doneMs = plant.nowMs;
    this.originMs = clock.nowMs() - plant.nowMs;
    const devices: Device[] = [];
    this.#hosted = rig.link.ports.map((port, i) => {
      const end = ends[i] as HostedEnd;
      const hosting = options.instruments?.get(port.name);
      const one = hosting ? this.#peer(hosting, end) : this.#device(i, end);
      if (one instanceof Device) devices.push(one);
      end.listen((line) => {
        if (this.stopped) return;
        this.catchUp();
        if (!plant.portDead(port.name) && plant.deaf?.() !== true) one.receive(line);
        this.schedule();
      });
      return one;
    });
    this.devices = devices;
  }

  #device(i: number, end: FarEnd): Device {
    const { plant, rig, latchedPorts = [], identity, watchdogLate = 1, forgetsLatch = false } = this.options;
    const port = rig.link.ports[i]!;
    return new Device({
      plant,
      rig,
      port: port.name,
      roles: servedRoles(port.roles, rig.battery.rafts.length),
      emit: (line) => {
        if (!plant.portDead(port.name)) end.send(line);
      },
      ...(identity ? { identity } : {}),
      watchdogLate,
      forgetsLatch,
      latched: latchedPorts.includes(port.name),
      reportOffsetMs: i * PORT_OFFSET_MS,
    });
  }

  #peer({ kind, faults }: Hosting, end: HostedEnd): Hosted {
    const { plant, rig } = this.options;
    return kind.make({
      plant,
      rig,
      phase: () => plant.phase ?? 'parked',
      send: (text) => end.send(text),
      unplug: () => end.unplug?.(),
      faults,
    });
  }

  start(): void {
    this.stopped = false;
    this.originMs = this.options.clock.nowMs() - this.doneMs;
    this.schedule();
  }

  stop(): void {
    this.stopped = true;
    this.cancelWake();
    this.wakeAtMs = Number.POSITIVE_INFINITY;
  }

  /** Brings plant and firmware to the present. */
  catchUp(): void {
    const elapsed = this.options.clock.nowMs() - this.originMs;
    // A virtual clock never falls behind: what lies between two frames is wanted in full.
    const behind = elapsed - this.doneMs - MOST_AT_ONCE_MS;
    if (this.pace === 'real' && behind > 0) this.originMs += behind;
    this.advance(Math.floor(this.options.clock.nowMs() - this.originMs + 1e-6));
  }

  /** Each turn moves time on by at least 1 ms, so the loop is bounded by the time there is. */
  private advance(toMs: number): void {
    while (this.doneMs < toMs) {
      const dueMs = Math.ceil(this.nextTickMs());
      this.doneMs = Math.min(toMs, Math.max(this.doneMs + 1, dueMs));
      this.options.plant.advanceTo(this.doneMs);
      for (const one of this.#hosted) one.tick(this.doneMs);
    }
  }

  private nextTickMs(): number {
    let next = Number.POSITIVE_INFINITY;
    for (const one of this.#hosted) next = Math.min(next, one.nextTickMs);
    return next;
  }

  private schedule(): void {
    if (this.stopped) return;
    const { clock } = this.options;
    const now = clock.nowMs();
    let wakeAtMs: number;
    if (this.pace === 'real') wakeAtMs = now + WAKE_MS;
    else wakeAtMs = this.originMs + Math.max(this.doneMs + 1, Math.ceil(this.nextTickMs()));
    // A wake that stands already, and early enough, is kept: frames come more often than ticks.
    if (this.pace === 'real' ? this.wakeAtMs <= wakeAtMs : this.wakeAtMs === wakeAtMs) return;
    this.cancelWake();
    this.wakeAtMs = wakeAtMs;
    if (wakeAtMs === Number.POSITIVE_INFINITY) return;
    this.cancelWake = clock.after(wakeAtMs - now, () => {
      this.wakeAtMs = Number.POSITIVE_INFINITY;
      this.catchUp();
      this.schedule();
    });
  }
}

/** Everything in one process on a virtual clock; the links are for the supervisor, in the order of the rig. */
export function virtualDevices(options: HostOptions): {
  readonly host: DeviceHost;
  readonly links: readonly MemoryLink[];
} {
  const { clock, plant, rig, random } = options;
  const links = rig.link.ports.map(
    (port) =>
      new MemoryLink({
        clock,
        port: port.name,
        baud: port.baud,
        trouble: troubleOf(plant, port.name),
        ...(random ? { random } : {}),
      }),
  );
  const ends = links.map((link) => ({
    ...(options.instruments?.get(link.port)?.kind.bytes ? inHex(link.far) : link.far),
    unplug: () => link.cut(`port ${link.port} is gone: the line was torn off`),
  }));
  const host = new DeviceHost(options, ends, 'virtual');
  host.start();
  return { host, links };
}

/** Bytes over a link of lines: each piece is one line in hexadecimal. It takes twice its time. */
function inHex(end: FarEnd): FarEnd {
  return {
    send: (bytes) => end.send(Buffer.from(bytes, 'latin1').toString('hex')),
    listen: (onBytes) => end.listen((line) => onBytes(Buffer.from(line, 'hex').toString('latin1'))),
  };
}

export interface PtyDevices {
  readonly host: DeviceHost;
  /** In the order of the rig. */
  readonly ptys: readonly Pty[];
  close(): void;
}

/** One pseudo-terminal for each port, in real time; a serial link opens them by path. */
export async function ptyDevices(options: HostOptions): Promise<PtyDevices> {
  const { clock, plant, rig, random } = options;
  const ptys: Pty[] = [];
  // Each keeper inherits the terminals opened before its own and would hold them: one that is to be torn off comes last.
  const isTorn = (name: string): boolean =>
    options.instruments?.get(name)?.faults.some((f) => f.fault === 'unplugged') ?? false;
  const order = rig.link.ports.map((_, i) => i);
  order.sort((a, b) => Number(isTorn(rig.link.ports[a]!.name)) - Number(isTorn(rig.link.ports[b]!.name)));
  try {
    for (const i of order) ptys[i] = await openPty(clock);
  } catch (error) {
    for (const pty of ptys) pty?.close();
    throw error;
  }
  const ends = rig.link.ports.map((port, i) => {
    const pty = ptys[i] as Pty;
    const wire = { clock, baud: port.baud, trouble: troubleOf(plant, port.name), random };
    const hosting = options.instruments?.get(port.name);
    if (hosting === undefined) return ptyEnd(pty, wire);
    const end = hosting.kind.bytes ? ptyBytes(pty, wire) : ptyEnd(pty, wire);
    return { ...end, unplug: () => pty.tear() };
  });
  const host = new DeviceHost(options, ends, 'real');
  host.start();
  const close = () => {
    host.stop();
    for (const pty of ptys) pty.close();
  };
  return { host, ptys, close };
}

interface WireOptions {
  readonly clock: Clock;
  readonly baud: number;
  readonly trouble: () => Trouble;
  readonly random: RandomSource | undefined;
}

/** The device's end of a pseudo-terminal, paced both ways at the baud rate, which the kernel does not do. */
export function ptyEnd(pty: Pty, { clock, baud, trouble, random }: WireOptions): FarEnd {
  let hear: (line: string) => void = () => {};
  const out = new LineWire(clock, baud, (line) => pty.write(`${line}\n`), random ?? null, trouble);
  const back = new LineWire(clock, baud, (line) => hear(line), random ?? null, trouble);
  const guard = new LineGuard(MAX_LINE_BYTES);
  guard.on('data', (line: Buffer) => back.send(line.toString('latin1').replace(/\n$/, '')));
  pty.onData((bytes) => guard.write(Buffer.from(bytes, 'latin1')));
  return {
    send: (line) => out.send(line),
    listen: (onLine) => {
      hear = onLine;
    },
  };
}

/** The same for bytes without lines: paced as they were written, piece by piece. */
function ptyBytes(pty: Pty, { clock, baud }: WireOptions): FarEnd {
  let hear: (bytes: string) => void = () => {};
  const out = new LineWire(clock, baud, (bytes) => pty.write(bytes));
  const back = new LineWire(clock, baud, (bytes) => hear(bytes));
  pty.onData((bytes) => back.send(bytes));
  return {
    send: (bytes) => out.send(bytes),
    listen: (onBytes) => {
      hear = onBytes;
    },
  };
}

/** The device's end of a real serial port, opened through the serial link; the wire does the pacing. */
export async function linkEnd(link: Link, down: (reason: string) => void): Promise<FarEnd> {
  let hear: (line: string) => void = () => {};
  await link.open({ line: (line) => hear(line), down });
  return {
    send: (line) => link.send(line),
    listen: (onLine) => {
      hear = onLine;
    },
  };
}
