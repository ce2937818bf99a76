/**
 * The device's side of the line protocol (src/link/PROTOCOL.md) for one instrument: session, watchdog, latch, orders,
 * reports. It knows nothing of ports and of what the instrument speaks; time is given to it.
 *
 * What differs from a device with firmware of its own: an order is answered when the instrument has done it, not
 * within 5 ms; set-points that came one after the other are answered together, by what became of the newest; and the
 * latch lives as long as the process (an instrument found with its output on comes up latched).
 */
import { decodeToDevice, encodeToSupervisor } from '../link/codec.js';
import { FrameGate } from '../link/frame-gate.js';
import {
  type Hello,
  LATCH_CAUSE,
  type LatchCause,
  type Misfit,
  type OrderFrame,
  PROTOCOL_VERSION,
  type ReportedRoles,
  type ServedRole,
  type TagKind,
  type ToDevice,
  type ToSupervisor,
} from '../link/frames.js';
import { type Answer, ORDERS, type Order } from '../rig/orders.js';
import type { Done, InstrumentRole } from './role.js';

export interface DeviceSideOptions {
  readonly served: ServedRole;
  readonly role: InstrumentRole;
  readonly identity: {
    readonly model: string;
    readonly serial: string;
    readonly firmware: string;
    readonly calibratedOn: number;
  };
  readonly limits: { readonly maxCurrentA: number; readonly maxVoltageV: number };
  /** Before a hello says otherwise. */
  readonly periodMs: number;
  readonly watchdogMs: number;
  readonly latched: boolean;
  emit(line: string): void;
}

interface Job {
  /** The session it came in: an answer to an earlier one is nobody's any more. */
  readonly session: string | null;
  readonly seq: number;
  readonly orders: readonly (Order | Misfit)[];
  /** Next order. */
  at: number;
}

/** Sessions remembered, so that a recorded hello of an earlier one is not taken for a new one. */
const REMEMBERED_SESSIONS = 16;
const MAX_WATCHDOG_MS = 1000;
const MIN_PERIOD_MS = 10;
const MAX_PERIOD_MS = 500;
/** Touchable below this. */
const SAFE_V = 60;
/** Order frames that wait for the instrument; what is more is not taken, and said again by the supervisor. */
const MAX_JOBS = 32;
/** The same trouble is tagged at most this often. */
const TAG_EVERY_MS = 500;
const COUNTER = 65536;

export class DeviceSide {
  readonly #options: DeviceSideOptions;
  readonly #gate = new FrameGate<ToDevice>(decodeToDevice, null);
  readonly #sessions: string[] = [];
  readonly #toSend: ToSupervisor[] = [];
  #jobs: Job[] = [];
  #working = false;
  #nowMs = 0;
  #seq = 0;
  #samples = 0;
  #periodMs: number;
  #watchdogMs: number;
  #lastFeedMs = Number.NEGATIVE_INFINITY;
  #nextReportMs = Number.POSITIVE_INFINITY;
  #latched: boolean;
  #safeSinceMs: number | null = null;
  #safeEnded = false;
  readonly #taggedMs = new Map<TagKind, number>();

  constructor(options: DeviceSideOptions) {
    this.#options = options;
    this.#latched = options.latched;
    this.#periodMs = options.periodMs;
    this.#watchdogMs = options.watchdogMs;
  }

  get latched(): boolean {
    return this.#latched;
  }
  get madeSafe(): boolean {
    return this.#safeSinceMs !== null;
  }

  /** Looks at the watchdog, the role and the beat of the reports; often enough is every few ms. */
  tick(nowMs: number): void {
    this.#nowMs = nowMs;
    const silentMs = nowMs - this.#lastFeedMs;
    if (this.#guarded && silentMs > this.#watchdogMs) {
      this.tag('watchdog', Math.min(silentMs, 2 ** 31));
      this.startMakeSafe('watchdog');
    }
    const { role } = this.#options;
    role.tick(nowMs);
    if (this.#safeSinceMs !== null && !this.#safeEnded && role.isSafe) {
      this.#safeEnded = true;
      this.tag('safe-end', nowMs - this.#safeSinceMs);
    }
    if (nowMs >= this.#nextReportMs) this.#report();
    this.#flush();
  }

  receive(line: string, nowMs: number): void {
    this.#nowMs = nowMs;
    const decoded = decodeToDevice(line);
    if (decoded.ok && decoded.frame.body.verb === 'hello' && !this.#sessions.includes(decoded.frame.nonce)) {
      this.#adopt(decoded.frame.nonce, decoded.frame.seq, decoded.frame.body);
      this.#flush();
      return;
    }
    const checked = this.#gate.check(decoded);
    if (!checked.ok) return;
    const { seq, body } = checked.frame;
    if (body.verb === 'feed') this.#lastFeedMs = nowMs;
    else if (body.verb === 'hello') this.#welcome();
    else this.#take(seq, body);
    this.#flush();
  }

  /** Something went wrong with the instrument. */
  trouble(kind: TagKind, value: number): void {
    const lastMs = this.#taggedMs.get(kind) ?? Number.NEGATIVE_INFINITY;
    if (this.#nowMs - lastMs < TAG_EVERY_MS) return;
    this.#taggedMs.set(kind, this.#nowMs);
    this.tag(kind, value);
  }

  tag(kind: TagKind, value: number): void {
    this.#toSend.push({ verb: 'tag', clockMs: clockOf(this.#nowMs), kind, value });
  }

  startMakeSafe(cause: LatchCause): void {
    // Once safe it stays so until the latch is cleared.
    if (this.madeSafe) return;
    const { role } = this.#options;
    if (!this.#latched) this.tag('latched', LATCH_CAUSE[cause]);
    this.#latched = true;
    this.tag('make-safe', LATCH_CAUSE[cause]);
    if (role.role === 'converter') this.tag('converter-off', Math.round(100 * role.currentA));
    this.#safeSinceMs = this.#nowMs;
    this.#safeEnded = false;
    role.makeSafe();
  }

  /** The watchdog has something to guard: energised, and not being made safe already. */
  get #guarded(): boolean {
    return this.#options.role.energised && !this.madeSafe;
  }

  // ---- session --------------------------------------------------------------------------------------

  #adopt(nonce: string, seq: number, hello: Hello): void {
    // Whoever held the energised session is gone without a word: this is no state to start from.
    if (this.#guarded) this.startMakeSafe('new-session');
    this.#sessions.push(nonce);
    if (this.#sessions.length > REMEMBERED_SESSIONS) this.#sessions.shift();
    this.#gate.adopt(nonce, seq);
    this.#seq = 0;
    this.#jobs = [];
    this.#working = false;
    this.#periodMs = Math.min(MAX_PERIOD_MS, Math.max(MIN_PERIOD_MS, hello.periodMs));
    this.#watchdogMs = Math.min(MAX_WATCHDOG_MS, Math.max(3 * this.#periodMs, hello.watchdogMs));
    this.#lastFeedMs = Number.NEGATIVE_INFINITY;
    this.#nextReportMs = (Math.floor(this.#nowMs / this.#periodMs) + 1) * this.#periodMs;
    this.#welcome();
  }

  #welcome(): void {
    const { served, identity, limits } = this.#options;
    // Before anything that was tagged on the way: the welcome is the first frame of a session.
    this.#toSend.unshift({
      verb: 'welcome',
      version: PROTOCOL_VERSION,
      ...identity,
      ...limits,
      watchdogMs: this.#watchdogMs,
      periodMs: this.#periodMs,
      roles: [served],
      latched: this.#latched,
    });
  }

  // ---- orders ---------------------------------------------------------------------------------------

  #take(seq: number, { orders }: OrderFrame): void {
    // Wherever it stands in the frame, and whatever is wrong with the rest.
    if (orders.some((o) => o.name === 'make-safe')) this.startMakeSafe('ordered');
    if (this.#jobs.length >= MAX_JOBS) return;
    this.#jobs.push({ session: this.#gate.session, seq, orders, at: 0 });
    this.#work();
  }

  /** One frame after the other; a set-point that ends its frame does not hold up the next one. */
  #work(): void {
    if (this.#working) return;
    for (let job = this.#jobs[0]; job !== undefined; job = this.#jobs[0]) {
      const order = job.orders[job.at++];
      if (order === undefined) {
        this.#jobs.shift();
        this.#answer(job, 'done', null);
      } else if (order.name === 'setpoint' && job.at === job.orders.length) {
        this.#jobs.shift();
        this.#obey(order, (answer) => this.#finish(job, job.orders.length - 1, answer));
      } else {
        const at = job.at - 1;
        let isOver = false;
        this.#working = true;
        const go = (answer: Answer | null): void => {
          isOver = true;
          if (this.#gate.session !== job.session) return;
          if (answer !== 'done') {
            this.#jobs.shift();
            this.#finish(job, at, answer);
          }
          this.#working = false;
        };
        let isLate = false;
        this.#obey(order, (answer) => {
          go(answer);
          if (isLate) {
            this.#work();
            this.#flush();
          }
        });
        isLate = true;
        if (!isOver) return;
      }
    }
  }

  #finish(job: Job, at: number, answer: Answer | null): void {
    if (answer !== null) this.#answer(job, answer, answer === 'done' ? null : at);
    this.#flush();
  }

  #answer(job: Job, answer: Answer, failed: number | null): void {
    if (job.session !== this.#gate.session) return;
    this.#toSend.push({ verb: 'answer', re: job.seq, answer, failed });
  }

  #obey(order: Order | Misfit, done: Done): void {
    const refusal = this.#refuses(order);
    if (refusal !== null) done(refusal);
    else if (order.name === 'make-safe') done('done');
    else if (order.name === 'clear-latch') {
      this.#latched = false;
      this.#safeSinceMs = null;
      this.tag('cleared', 0);
      done('done');
    } else this.#options.role.obey(order as Order, done);
  }

  /** The last line before the instrument is told. */
  #refuses(order: Order | Misfit): Answer | null {
    if (order.name === 'misfit') return order.answer;
    const { role } = this.#options;
    const wants = ORDERS[order.name].role;
    if (wants !== 'device' && wants !== role.role) return 'unknown-order';
    if (Object.values(order.args).some((n) => !(n >= 0))) return 'bad-argument';
    if (energises(order)) {
      if (this.#latched) return 'latched';
      const fed = this.#nowMs - this.#lastFeedMs <= this.#watchdogMs;
      if (this.madeSafe || !fed) return 'not-permitted';
    }
    // While it is being made safe, or anything can be touched, or cannot be read.
    if (order.name === 'clear-latch' && !(role.isSafe && role.greatestV < SAFE_V)) return 'not-permitted';
    return null;
  }

  // ---- sending --------------------------------------------------------------------------------------

  #report(): void {
    this.#samples = (this.#samples + 1) % COUNTER;
    const { role } = this.#options;
    const roles: ReportedRoles = {
      device: {
        sample: this.#samples,
        // The moment of the readings, not of the report: what is judged over time is free of the wait between them.
        clockMs: clockOf(Math.max(0, role.readMs)),
        latched: this.#latched ? 1 : 0,
        madeSafe: this.madeSafe ? 1 : 0,
        rejectedFrames: this.#gate.rejected % COUNTER,
      },
      ...role.report(),
      rafts: [],
    };
    this.#toSend.push({ verb: 'report', roles });
    // In steps, not from now: a late tick must not shift the beat for good.
    while (this.#nextReportMs <= this.#nowMs) this.#nextReportMs += this.#periodMs;
  }

  /** Everything waiting goes out in one session; without a session there is nobody to tell. */
  #flush(): void {
    const nonce = this.#gate.session;
    const bodies = this.#toSend.splice(0);
    if (nonce === null) return;
    for (const body of bodies) this.#options.emit(encodeToSupervisor(nonce, ++this.#seq, body));
  }
}

/** Can make something live, or live more. Withdrawing and setting zero cannot. */
function energises(order: Order): boolean {
  if (order.name === 'setpoint') return order.args.currentA > 0;
  if (order.name === 'authority') return order.args.ceilingA > 0;
  return ORDERS[order.name].permission === 'durable';
}

const clockOf = (ms: number): number => Math.floor(ms) % 2 ** 32;
