/**
 * The firmware of one simulated port: session, watchdog, orders, reports. What a real device must do is in
 * src/link/PROTOCOL.md; this is the same in code. It has no clock: `tick` is called with the time, after the
 * plant was brought there, and `receive` acts at the time of the last tick.
 *
 * Promise: whatever arrives, nothing is energised without a session whose feed frames keep coming, nor while
 * latched or made safe; and silence while energised ends in the make-safe sequence.
 */
import { decodeToDevice, encodeToSupervisor } from '../src/link/codec.js';
import { FrameGate } from '../src/link/frame-gate.js';
import {
  type Hello,
  LATCH_CAUSE,
  type LatchCause,
  type OrderFrame,
  PROTOCOL_VERSION,
  type ReportedRoles,
  raftNumber,
  type ServedRole,
  type TagKind,
  type ToDevice,
  type ToSupervisor,
} from '../src/link/frames.js';
import type { Answer, Order } from '../src/rig/orders.js';
import { PHASES, type ReadingOf } from '../src/rig/roles.js';
import type { Rig } from '../src/rig/schema.js';
import { Authority } from './firmware/authority.js';
import { Bleeders } from './firmware/bleeders.js';
import { MakeSafe } from './firmware/make-safe.js';
import { Outputs } from './firmware/outputs.js';
import { permit } from './firmware/permit.js';
import { Sensors } from './firmware/sensors.js';
import { WaveSender } from './firmware/wave.js';
import type { Plant } from './plant.js';

export interface Identity {
  readonly model: string;
  readonly serial: string;
  readonly firmware: string;
  /** yyyymmdd */
  readonly calibratedOn: number;
}

export interface DeviceOptions {
  readonly plant: Plant;
  readonly rig: Rig;
  /** Name of the port in the rig. */
  readonly port: string;
  readonly roles: readonly ServedRole[];
  readonly emit: (line: string) => void;
  readonly identity?: Identity;
  /** What the device enforces by itself; the rig's converter limits when not given. */
  readonly limits?: { readonly maxCurrentA: number; readonly maxVoltageV: number };
  /** Latched already when power comes up. */
  readonly latched?: boolean;
  /** Fault: waits this many times the watchdog it agreed to. */
  readonly watchdogLate?: number;
  /** Fault: loses its latch, and that it was made safe, at the end of make-safe. */
  readonly forgetsLatch?: boolean;
  /** Shift of the reports within the period. */
  readonly reportOffsetMs?: number;
}

export const SIMULATED_IDENTITY: Identity = {
  model: 'lw-sim',
  serial: '0001',
  firmware: '1.0.0',
  calibratedOn: 20300101,
};
/** Sessions remembered, so that a recorded hello of an earlier one is not taken for a new one. */
const REMEMBERED_SESSIONS = 16;
/** Greatest watchdog the device agrees to. */
const MAX_WATCHDOG_MS = 1000;
const MIN_PERIOD_MS = 10;
const MAX_PERIOD_MS = 500;
const COUNTER = 65536;

export class Device {
  readonly port: string;
  private readonly gate = new FrameGate<ToDevice>(decodeToDevice, null);
  private readonly outputs: Outputs;
  private readonly sensors: Sensors;
  private readonly authority: Authority;
  private readonly bleeders: Bleeders;
  private readonly makeSafe: MakeSafe;
  private readonly wave: WaveSender;
  private readonly served: readonly { readonly role: ServedRole; readonly raft: number }[];
  private readonly limits: { readonly maxCurrentA: number; readonly maxVoltageV: number };
  private readonly sessions: string[] = [];
  private readonly toSend: ToSupervisor[] = [];
  private nowMs = 0;
  private seq = 0;
  private samples = 0;
  private periodMs: number;
  private watchdogMs: number;
  private lastFeedMs = Number.NEGATIVE_INFINITY;
  private nextReportMs = Number.POSITIVE_INFINITY;
  private reportBytes = 0;
  private latchedNow: boolean;

  constructor(private readonly options: DeviceOptions) {
    const { plant, rig, roles } = options;
    this.port = options.port;
    this.served = roles.map((role) => ({ role, raft: raftNumber(role) }));
    this.limits = options.limits ?? rig.converter;
    this.latchedNow = options.latched ?? false;
    this.periodMs = rig.link.periodMs;
    this.watchdogMs = rig.link.deviceWatchdogMs;
    this.outputs = new Outputs(plant);
    this.sensors = new Sensors(plant, roles, rig.precharge !== undefined);
    this.authority = new Authority(this.outputs, this.limits, (a) =>
      this.tag('authority-expired', Math.round(a * 100)),
    );
    this.bleeders = new Bleeders(rig, this.outputs, this.sensors, (side, why) => {
      if (why === 'limit') this.tag('bleed-abort', side === 'output' ? 1 : 2);
      else this.tag(side === 'output' ? 'bleed-output' : 'bleed-plug', 0);
    });
    this.makeSafe = new MakeSafe(rig, this.outputs, this.sensors, (kind, value) => this.tag(kind, value));
    this.wave = new WaveSender(rig.link.ports.find((p) => p.name === this.port)?.baud ?? 57600);
  }

  get latched(): boolean {
    return this.latchedNow;
  }

  /** In the make-safe sequence or its end state. */
  get madeSafe(): boolean {
    return this.makeSafe.startedMs !== null;
  }

  get energised(): boolean {
    return this.outputs.energised;
  }

  /** The watchdog has something to guard: energised, and not being made safe already. */
  private get guarded(): boolean {
    return this.outputs.energised && !this.madeSafe;
  }

  /** Silence after which it acts. */
  private get silenceMs(): number {
    return this.watchdogMs * (this.options.watchdogLate ?? 1);
  }

  get session(): string | null {
    return this.gate.session;
  }

  /** The next time at which `tick` has something to do; calling it more often changes nothing. */
  get nextTickMs(): number {
    const now = this.nowMs;
    const watchdog = this.outputs.energised ? this.lastFeedMs + this.silenceMs + 1 : Number.POSITIVE_INFINITY;
    return Math.min(
      this.nextReportMs,
      watchdog,
      this.authority.nextMs,
      this.bleeders.nextMs(now),
      this.makeSafe.nextMs(now),
    );
  }

  tick(nowMs: number): void {
    this.nowMs = nowMs;
    const silentMs = nowMs - this.lastFeedMs;
    if (this.guarded && silentMs > this.silenceMs) {
      this.tag('watchdog', Math.min(silentMs, 2 ** 31));
      this.startMakeSafe('watchdog');
    }
    this.authority.tick(nowMs);
    this.makeSafe.tick(nowMs);
    if (this.options.forgetsLatch && this.madeSafe && !this.makeSafe.running) {
      this.latchedNow = false;
      this.makeSafe.clear();
    }
    this.bleeders.tick(nowMs, this.makeSafe.running);
    if (nowMs >= this.nextReportMs) this.report();
    this.flush();
  }

  /** One line as it came, without its terminator; acts at the time of the last tick. */
  receive(line: string): void {
    const decoded = decodeToDevice(line);
    if (decoded.ok && decoded.frame.body.verb === 'hello' && this.isNew(decoded.frame.nonce)) {
      this.adopt(decoded.frame.nonce, decoded.frame.seq, decoded.frame.body);
      this.flush();
      return;
    }
    const checked = this.gate.check(decoded);
    if (!checked.ok) return;
    const { seq, body } = checked.frame;
    if (body.verb === 'feed') {
      this.lastFeedMs = this.nowMs;
      this.options.plant.setPhase(PHASES[body.phase]!);
    } else if (body.verb === 'hello') this.welcome();
    else this.carryOut(seq, body);
    this.flush();
  }

  // ---- session --------------------------------------------------------------------------------------

  /** A nonce that never opened a session since power came up. */
  private isNew(nonce: string): boolean {
    return !this.sessions.includes(nonce);
  }

  private adopt(nonce: string, seq: number, hello: Hello): void {
    // A burst the session before asked for; the one of a latch, which may follow now, is kept.
    this.wave.clear();
    // One given before the converter was enabled would outlive its session.
    if (!this.outputs.energised) this.authority.drop();
    // Whoever held the energised session is gone without a word: this is no state to start from.
    if (this.guarded) this.startMakeSafe('new-session');
    this.sessions.push(nonce);
    if (this.sessions.length > REMEMBERED_SESSIONS) this.sessions.shift();
    this.gate.adopt(nonce, seq);
    this.seq = 0;
    this.periodMs = Math.min(MAX_PERIOD_MS, Math.max(MIN_PERIOD_MS, hello.periodMs));
    this.watchdogMs = Math.min(MAX_WATCHDOG_MS, Math.max(3 * this.periodMs, hello.watchdogMs));
    // Silence counts from the first feed frame; until it comes nothing can be energised.
    this.lastFeedMs = Number.NEGATIVE_INFINITY;
    const offset = (this.options.reportOffsetMs ?? 0) % this.periodMs;
    this.nextReportMs = (Math.floor((this.nowMs - offset) / this.periodMs) + 1) * this.periodMs + offset;
    this.welcome();
  }

  private welcome(): void {
    const { roles, identity = SIMULATED_IDENTITY } = this.options;
    const { maxCurrentA, maxVoltageV } = this.limits;
    const { watchdogMs, periodMs } = this;
    // Before anything that was tagged on the way: the welcome is the first frame of a session.
    this.toSend.unshift({
      verb: 'welcome',
      version: PROTOCOL_VERSION,
      ...identity,
      maxCurrentA,
      maxVoltageV,
      watchdogMs,
      periodMs,
      roles,
      latched: this.latchedNow,
    });
  }

  // ---- orders ---------------------------------------------------------------------------------------

  private carryOut(seq: number, frame: OrderFrame): void {
    // Wherever it stands in the frame, and whatever is wrong with the rest.
    if (frame.orders.some((o) => o.name === 'make-safe')) this.startMakeSafe('ordered');
    let failed: number | null = null;
    let answer: Answer = 'done';
    for (let i = 0; i < frame.orders.length && failed === null; i++) {
      const order = frame.orders[i]!;
      answer = order.name === 'misfit' ? order.answer : this.obey(order, seq);
      if (answer !== 'done') failed = i;
    }
    this.toSend.push({ verb: 'answer', re: seq, answer, failed });
  }

  private obey(order: Order, seq: number): Answer {
    if (order.name === 'make-safe') return 'done';
    const fed = this.nowMs - this.lastFeedMs <= this.watchdogMs;
    const refusal = permit(order, {
      roles: this.options.roles,
      outputs: this.outputs,
      sensors: this.sensors,
      latched: this.latchedNow,
      madeSafe: this.madeSafe,
      sequenceRunning: this.makeSafe.running,
      fed,
    });
    if (refusal !== null) return refusal;
    switch (order.name) {
      case 'enable-converter':
        return this.authority.enable(order.args);
      case 'authority':
        return this.authority.grant(this.nowMs, order.args);
      case 'setpoint':
        return this.authority.set(order.args);
      case 'clear-latch':
        this.latchedNow = false;
        this.makeSafe.clear();
        this.tag('cleared', 0);
        return 'done';
      case 'waveform':
        this.loadWave(seq);
        return 'done';
      case 'disable-converter':
        this.authority.drop();
        break;
      default:
        break;
    }
    this.outputs.apply(order);
    return 'done';
  }

  private startMakeSafe(cause: LatchCause): void {
    // Once safe it stays so until the latch is cleared; a second order must not restart the sequence.
    if (this.madeSafe) return;
    if (!this.latchedNow) this.tag('latched', LATCH_CAUSE[cause]);
    this.latchedNow = true;
    this.tag('make-safe', LATCH_CAUSE[cause]);
    this.authority.drop();
    this.makeSafe.start(this.nowMs);
    this.loadWave(0);
  }

  private loadWave(re: number): void {
    if (!this.sensors.serves('loop')) return;
    const { samplesA, spacingS } = this.options.plant.pilotWaveform();
    if (samplesA.length > 0) this.wave.load(re, samplesA, spacingS, this.periodMs, this.reportBytes);
  }

  // ---- sending --------------------------------------------------------------------------------------

  private report(): void {
    this.samples = (this.samples + 1) % COUNTER;
    this.tellEvents();
    this.toSend.push({ verb: 'report', roles: this.readRoles() });
    const part = this.wave.next();
    if (part) this.toSend.push(part);
    // In steps, not from now: a late tick must not shift the phase for good.
    while (this.nextReportMs <= this.nowMs) this.nextReportMs += this.periodMs;
  }

  /** Tags of what the plant timed, before the report that shows it. */
  private tellEvents(): void {
    if (!this.sensors.serves('contactor')) return;
    for (const { atMs, kind, value } of this.options.plant.takeEvents?.() ?? [])
      this.toSend.push({ verb: 'tag', clockMs: atMs, kind, value });
  }

  private readRoles(): ReportedRoles {
    const { plant } = this.options;
    const roles: Record<string, unknown> = {};
    const rafts: (ReadingOf<'raft'> | null)[] = [];
    roles.device = {
      sample: this.samples,
      clockMs: this.clockMs,
      latched: this.latchedNow ? 1 : 0,
      madeSafe: this.madeSafe ? 1 : 0,
      rejectedFrames: this.gate.rejected % COUNTER,
    } satisfies ReadingOf<'device'>;
    for (const { role, raft } of this.served) {
      if (raft > 0) {
        while (rafts.length < raft - 1) rafts.push(null);
        rafts[raft - 1] = plant.read('raft', raft);
      } else if (role === 'meter') roles.meter = this.sensors.meterForReport();
      else roles[role] = plant.read(role as 'converter');
    }
    roles.rafts = rafts;
    return roles as unknown as ReportedRoles;
  }

  private get clockMs(): number {
    return Math.floor(this.nowMs) % 2 ** 32;
  }

  private tag(kind: TagKind, value: number): void {
    this.toSend.push({ verb: 'tag', clockMs: this.clockMs, kind, value });
  }

  /** Everything waiting goes out in one session; without a session there is nobody to tell. */
  private flush(): void {
    const nonce = this.gate.session;
    if (this.toSend.length === 0) return;
    if (nonce !== null) {
      for (const body of this.toSend) {
        const line = encodeToSupervisor(nonce, ++this.seq, body);
        if (body.verb === 'report') this.reportBytes = line.length + 1;
        this.options.emit(line);
      }
    }
    this.toSend.length = 0;
  }
}
