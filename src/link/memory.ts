/**
 * A link with no hardware: two ends in one process, with the transit time a line has at the port's baud rate
 * and, when asked, trouble on the way. Runs on whatever clock it is given, virtual or real.
 */
import type { Clock } from '../host/clock.js';
import type { RandomSource } from '../host/random.js';
import { transitMs } from '../rig/frame-size.js';
import { type Link, type LinkEvents, MAX_LINE_BYTES, PortError } from './link.js';

/** Bytes that may wait for the wire; more is refused. Four longest lines. */
export const MAX_QUEUE_BYTES = 4 * (MAX_LINE_BYTES + 1);

/** Shares of all lines, 0..1, and the greatest delay. Drawn for each line from a seeded source. */
export interface Trouble {
  readonly dropShare: number;
  readonly corruptShare: number;
  readonly duplicateShare: number;
  readonly delayShare: number;
  readonly delayMaxMs: number;
}
export const NO_TROUBLE: Trouble = {
  dropShare: 0,
  corruptShare: 0,
  duplicateShare: 0,
  delayShare: 0,
  delayMaxMs: 0,
};

/**
 * One direction of a serial line: lines leave in order, each after the one before it and its own transit.
 * Bounded by MAX_QUEUE_BYTES. Used by the memory link and by the simulated device on a pseudo-terminal.
 */
export class LineWire {
  private busyUntilMs = Number.NEGATIVE_INFINITY;
  private queued = 0;
  private readonly waiting = new Set<() => void>();

  constructor(
    private readonly clock: Clock,
    private readonly baud: number,
    private readonly arrive: (line: string) => void,
    private readonly random: RandomSource | null = null,
    /** Asked for every line: what is wrong with the wire now. */
    private readonly trouble: () => Trouble = () => NO_TROUBLE,
  ) {}

  /** False when the queue is full: the line was not sent. */
  send(line: string): boolean {
    const bytes = line.length + 1;
    if (this.queued + bytes > MAX_QUEUE_BYTES) return false;
    const now = this.clock.nowMs();
    this.busyUntilMs = Math.max(now, this.busyUntilMs) + transitMs(bytes, this.baud);
    this.queued += bytes;
    const delays = this.suffer();
    const damaged = this.draw(this.trouble().corruptShare)
      ? corrupt(line, this.random as RandomSource)
      : line;
    this.later(this.busyUntilMs - now, () => {
      this.queued -= bytes;
      for (const delayMs of delays) {
        if (delayMs === 0) this.arrive(damaged);
        else this.later(delayMs, () => this.arrive(damaged));
      }
    });
    return true;
  }

  /** Forgets everything on the way. */
  clear(): void {
    for (const cancel of this.waiting) cancel();
    this.waiting.clear();
    this.queued = 0;
    this.busyUntilMs = Number.NEGATIVE_INFINITY;
  }

  private later(delayMs: number, run: () => void): void {
    const cancel = this.clock.after(delayMs, () => {
      this.waiting.delete(cancel);
      run();
    });
    this.waiting.add(cancel);
  }

  /** Extra delay of each copy that arrives: none, one or two. */
  private suffer(): number[] {
    const trouble = this.trouble();
    if (this.draw(trouble.dropShare)) return [];
    const delay = this.draw(trouble.delayShare) ? this.fraction() * trouble.delayMaxMs : 0;
    return this.draw(trouble.duplicateShare)
      ? [delay, delay + this.fraction() * trouble.delayMaxMs]
      : [delay];
  }

  /** Draws only where there is trouble, so that a quiet line does not depend on the seed. */
  private draw(share: number): boolean {
    return this.random !== null && share > 0 && this.fraction() < share;
  }

  private fraction(): number {
    return (this.random as RandomSource).uint32() / 2 ** 32;
  }
}

/** One to three bytes changed. */
function corrupt(line: string, random: RandomSource): string {
  let text = line;
  const hits = 1 + (random.uint32() % 3);
  for (let i = 0; i < hits && text.length > 0; i++) {
    const at = random.uint32() % text.length;
    const changed = text.charCodeAt(at) ^ (1 << (random.uint32() % 8));
    text = text.slice(0, at) + String.fromCharCode(changed) + text.slice(at + 1);
  }
  return text;
}

export interface MemoryOptions {
  readonly clock: Clock;
  readonly port: string;
  readonly baud: number;
  readonly random?: RandomSource;
  readonly trouble?: () => Trouble;
}

/** The device's end. It is always there, as a powered device is; whether anyone hears it is another matter. */
export interface FarEnd {
  send(line: string): boolean;
  /** Sets the one listener. */
  listen(onLine: (line: string) => void): void;
}

/** The supervisor's end, its far end, and the faults a test can make. */
export class MemoryLink implements Link {
  readonly port: string;
  readonly far: FarEnd;
  generation = 0;
  readonly dropped = { lines: 0, bytes: 0 };
  private events: LinkEvents | null = null;
  private hear: (line: string) => void = () => {};
  private readonly out: LineWire;
  private readonly back: LineWire;
  /** Set to a reason: the port cannot be opened. */
  private absent: string | null = null;

  constructor(options: MemoryOptions) {
    this.port = options.port;
    const { clock, baud, random = null, trouble } = options;
    this.out = new LineWire(clock, baud, (line) => this.hear(line), random, trouble);
    this.back = new LineWire(clock, baud, (line) => this.deliver(line), random, trouble);
    this.far = {
      // Nobody listens: the bytes go nowhere, as on a real line.
      send: (line) => this.events === null || this.back.send(line),
      listen: (onLine) => {
        this.hear = onLine;
      },
    };
  }

  async open(events: LinkEvents): Promise<void> {
    if (this.absent !== null) throw new PortError(this.port, 'memory', this.absent, 'connect the device');
    if (this.events !== null) {
      throw new PortError(this.port, 'memory', 'it is open already', 'close it before opening it again');
    }
    this.generation++;
    this.events = events;
  }

  send(line: string): boolean {
    if (this.events === null || !sendable(line)) return false;
    return this.out.send(line);
  }

  async close(): Promise<void> {
    this.events = null;
    this.out.clear();
    this.back.clear();
  }

  /** Pulls the plug: the opening is down, and cannot be opened again until `restore`. */
  cut(reason: string): void {
    const events = this.events;
    this.absent = reason;
    this.events = null;
    this.out.clear();
    this.back.clear();
    events?.down(reason);
  }

  restore(): void {
    this.absent = null;
  }

  private deliver(line: string): void {
    if (line.length > MAX_LINE_BYTES) {
      this.dropped.lines++;
      this.dropped.bytes += line.length;
      return;
    }
    this.events?.line(line);
  }
}

/** A line that arrives as one line: bounded, with no terminator inside. */
export const sendable = (line: string): boolean =>
  line.length > 0 && line.length <= MAX_LINE_BYTES && !line.includes('\n') && !line.includes('\r');
