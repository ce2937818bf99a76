/** A supervisor reduced to its link: speaks to one device of a virtual host, and remembers what it says. */
import { type DeviceHost, virtualDevices } from '../../simulators/device-host.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { decodeToSupervisor, encodeToDevice } from '../../src/link/codec.js';
import { FrameGate } from '../../src/link/frame-gate.js';
import type { AnswerFrame, Report, ToDevice, ToSupervisor, Welcome } from '../../src/link/frames.js';
import type { MemoryLink } from '../../src/link/memory.js';
import type { Order } from '../../src/rig/orders.js';
import { StubPlant, stubRig } from './stub-plant.js';

export class Bench {
  readonly clock = new VirtualClock();
  readonly plant = new StubPlant();
  readonly host: DeviceHost;
  readonly link: MemoryLink;
  readonly heard: { readonly atMs: number; readonly body: ToSupervisor }[] = [];
  gate = new FrameGate(decodeToSupervisor, null);
  nonce = '00000000';
  private seq = 0;
  private stopFeeding: () => void = () => {};

  constructor(options: { latched?: boolean; roles?: string[] } = {}) {
    const rig = stubRig(options.roles ? [{ name: 'main', roles: options.roles }] : undefined);
    const { host, links } = virtualDevices({
      clock: this.clock,
      plant: this.plant,
      rig,
      random: new SeededRandom(1),
      latchedPorts: options.latched ? ['main'] : [],
    });
    this.host = host;
    this.link = links[0] as MemoryLink;
    void this.link.open({
      line: (line) => {
        const decoded = this.gate.accept(line);
        if (decoded.ok) this.heard.push({ atMs: this.clock.nowMs(), body: decoded.frame.body });
      },
      down: () => {},
    });
  }

  pass(ms: number): this {
    this.clock.runUntil(this.clock.nowMs() + ms);
    return this;
  }

  send(body: ToDevice): number {
    this.link.send(encodeToDevice(this.nonce, ++this.seq, body));
    return this.seq;
  }

  hello(nonce: string): this {
    this.nonce = nonce;
    this.seq = 0;
    this.gate = new FrameGate(decodeToSupervisor, nonce);
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
    this.stopFeeding();
    const again = () => {
      this.send({ verb: 'feed', phase });
      this.stopFeeding = this.clock.after(everyMs, again);
    };
    again();
    return this.pass(10);
  }

  starve(): this {
    this.stopFeeding();
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
    return this.heard.map((h) => h.body).filter((b) => b.verb === verb) as Extract<
      ToSupervisor,
      { verb: V }
    >[];
  }

  get welcome(): Welcome | undefined {
    return this.all('welcome').at(-1);
  }

  get report(): Report | undefined {
    return this.all('report').at(-1);
  }

  get tags(): string[] {
    return this.all('tag').map((t) => `${t.kind}:${t.value}`);
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
    this.plant.currentA = currentA;
    this.plant.outputV = 750;
    this.plant.plugV = 750;
    return this;
  }
}
