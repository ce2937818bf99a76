/**
 * A supervisor reduced to its link: speaks to one device, and remembers what it says. What the device is, and
 * whose time it lives in, is for `VirtualBench` and `ReferenceBench` to say.
 */
import { SeededRandom } from '../../simulators/seeded-random.js';
import { decodeToSupervisor, encodeToDevice } from '../../src/link/codec.js';
import { FrameGate } from '../../src/link/frame-gate.js';
import type { AnswerFrame, Report, Tag, ToDevice, ToSupervisor, Welcome } from '../../src/link/frames.js';
import type { Order } from '../../src/rig/orders.js';

/** What a device states of itself in its papers, as far as the contract needs it. */
export interface Figures {
  readonly maxCurrentA: number;
  readonly maxVoltageV: number;
  readonly bleederMaxOnS: number;
  readonly bleederMaxJ: number;
  readonly outputBleederOhm: number;
  readonly breakingCapacityA: number;
  readonly waveSpacingNs: number;
  readonly waveSamples: number;
}

/** What the device measures; contactors follow their coils at once. */
export interface Seen {
  currentA: number;
  outputV: number;
  plugV: number;
}

export interface BenchOptions {
  readonly latched?: boolean;
  /** Role names; rafts as `raft` or `raft1`. All of them, and two rafts, when not given. */
  readonly roles?: readonly string[];
}

/** Shares of lines that are lost, damaged or doubled, in both directions. */
export interface Noise {
  readonly lost: number;
  readonly damaged: number;
  readonly doubled: number;
}

export abstract class Bench {
  /** Every line the device said, taken or not. */
  readonly lines: string[] = [];
  readonly heard: ToSupervisor[] = [];
  gate = new FrameGate(decodeToSupervisor, null);
  nonce = '00000000';
  noise: Noise = { lost: 0, damaged: 0, doubled: 0 };
  private readonly random = new SeededRandom(1);
  private seq = 0;
  private feedEveryMs = Number.POSITIVE_INFINITY;
  private nextFeedMs = Number.POSITIVE_INFINITY;
  private phase = 0;

  abstract readonly figures: Figures;
  /** Time since the device had power, which is also the device's clock. */
  abstract get nowMs(): number;
  /** What is measured from now on. */
  abstract see(seen: Partial<Seen>): this;
  protected abstract advance(ms: number): void;
  protected abstract deliver(line: string): void;
  close(): void {}

  /** For what the device is made of: one line of it has come. */
  protected hear(line: string): void {
    for (const come of this.throughNoise(line)) {
      this.lines.push(come);
      const decoded = this.gate.accept(come);
      if (decoded.ok) this.heard.push(decoded.frame.body);
    }
  }

  write(line: string): void {
    for (const come of this.throughNoise(line)) this.deliver(come);
  }

  pass(ms: number): this {
    const untilMs = this.nowMs + ms;
    while (this.nextFeedMs <= untilMs) {
      if (this.nextFeedMs > this.nowMs) this.advance(this.nextFeedMs - this.nowMs);
      this.nextFeedMs += this.feedEveryMs;
      this.send({ verb: 'feed', phase: this.phase });
    }
    if (untilMs > this.nowMs) this.advance(untilMs - this.nowMs);
    return this;
  }

  send(body: ToDevice): number {
    this.write(encodeToDevice(this.nonce, ++this.seq, body));
    return this.seq;
  }

  hello(nonce: string): this {
    this.nonce = nonce;
    this.seq = 0;
    this.starve();
    this.gate = new FrameGate(decodeToSupervisor, nonce);
    return this.helloAgain();
  }

  helloAgain(): this {
    this.send({
      verb: 'hello',
      version: 1,
      periodMs: 100,
      watchdogMs: 300,
      maxCurrentA: 300,
      maxVoltageV: 900,
      roles: ['converter'],
    });
    return this.pass(20);
  }

  feed(everyMs = 100, phase = 0): this {
    this.feedEveryMs = everyMs;
    this.nextFeedMs = this.nowMs;
    this.phase = phase;
    return this.pass(10);
  }

  starve(): this {
    this.nextFeedMs = Number.POSITIVE_INFINITY;
    return this;
  }

  /** Sends orders in one frame and returns the answer, `answer` or `answer@index`. */
  order(...orders: Order[]): string {
    const before = this.all('answer').length;
    const re = this.send({ verb: 'order', orders });
    this.pass(20);
    const answer: AnswerFrame | undefined = this.all('answer')
      .slice(before)
      .find((a) => a.re === re);
    if (!answer) return 'silence';
    return answer.failed === null ? answer.answer : `${answer.answer}@${answer.failed}`;
  }

  all<V extends ToSupervisor['verb']>(verb: V): Extract<ToSupervisor, { verb: V }>[] {
    return this.heard.filter((b) => b.verb === verb) as Extract<ToSupervisor, { verb: V }>[];
  }

  get welcome(): Welcome | undefined {
    return this.all('welcome').at(-1);
  }

  /** A report made after now. */
  get report(): Report | undefined {
    this.pass(110);
    return this.all('report').at(-1);
  }

  get tags(): string[] {
    return this.all('tag').map((t) => `${t.kind}:${t.value}`);
  }

  tag(kind: string): Tag | undefined {
    return this.all('tag').find((t) => t.kind === kind);
  }

  /** A session with poles closed and current flowing. */
  charge(currentA: number): this {
    this.hello('0a0a0a0a').feed();
    this.order(
      { name: 'close-train', args: {} },
      { name: 'close-p', args: {} },
      { name: 'close-n', args: {} },
    );
    this.order(
      { name: 'enable-converter', args: { matchA: 2 } },
      { name: 'authority', args: { ceilingA: 250, slopeAPerS: 20, lifeMs: 2000 } },
      { name: 'setpoint', args: { currentA: 200, voltageV: 800 } },
    );
    return this.see({ currentA, outputV: 750, plugV: 750 });
  }

  private throughNoise(line: string): string[] {
    const { lost, damaged, doubled } = this.noise;
    if (lost + damaged + doubled === 0) return [line];
    const draw = this.random.unit();
    if (draw < lost) return [];
    if (draw < lost + damaged) {
      const at = Math.floor(this.random.unit() * line.length);
      const other = String.fromCharCode(32 + ((line.charCodeAt(at) - 32 + 1) % 95));
      return [line.slice(0, at) + other + line.slice(at + 1)];
    }
    return draw < lost + damaged + doubled ? [line, line] : [line];
  }
}
