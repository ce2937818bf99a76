/** Adapters are links: SCPI over memory, and Modbus; in virtual time that runs by itself while promises wait. */
import { describe, expect, it } from 'vitest';
import { virtualDevices } from '../../simulators/device-host.js';
import { PEERS } from '../../simulators/peers/kinds.js';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { decodeToSupervisor, encodeToDevice } from '../../src/link/codec.js';
import type { ToDevice, ToSupervisor } from '../../src/link/frames.js';
import { type Link, PortError } from '../../src/link/link.js';
import type { MemoryLink } from '../../src/link/memory.js';
import { loadRig } from '../../src/rig/load.js';
import type { Order } from '../../src/rig/orders.js';
import { adapters } from '../sim/instrument-bench.js';
import { ears, openingContract } from './link.contract.js';
import { StubPlant } from './stub-plant.js';

/** An adapter on the first port of a rig, its instrument on a stub, and a clock that goes on by itself. */
function stand(name: string) {
  const loaded = loadRig(name);
  const clock = new VirtualClock();
  const plant = new StubPlant();
  const instruments = new Map(
    [...loaded.instruments].map(([port, map]) => [
      port,
      { kind: PEERS[`${map.speaks} ${map.role}`]!, faults: [] },
    ]),
  );
  const { links } = virtualDevices({ clock, plant, rig: loaded.rig, instruments });
  const wire = links[0] as MemoryLink;
  const link = adapters(loaded, links, clock)[0] as Link;
  let running = true;
  const run = (): void => {
    if (!running) return;
    clock.step();
    setImmediate(run);
  };
  setImmediate(run);
  const pass = async (ms: number): Promise<void> => {
    const endMs = clock.nowMs() + ms;
    while (clock.nowMs() < endMs) await new Promise((resolve) => setImmediate(resolve));
  };
  const end = async (): Promise<void> => {
    await link.close();
    running = false;
  };
  return { link, pass, plant, wire, clock, cut: () => wire.cut('the cable was pulled'), end };
}

const HELLO: ToDevice = {
  verb: 'hello',
  version: 1,
  periodMs: 50,
  watchdogMs: 300,
  maxCurrentA: 300,
  maxVoltageV: 800,
  roles: ['converter'],
};

describe.each(['depot-instruments', 'depot-module'])('an adapter of %s', (name) => {
  openingContract(
    name,
    async () => stand(name),
    async () => {
      const { link, wire } = stand(name);
      wire.cut('nothing is connected');
      return link;
    },
  );

  /** Speaks to the adapter as a supervisor would. */
  async function talking() {
    const s = stand(name);
    const said: ToSupervisor[] = [];
    await s.link.open({
      line: (line) => {
        const decoded = decodeToSupervisor(line);
        if (!decoded.ok) throw new Error(`${decoded.why}: ${line}`);
        said.push(decoded.frame.body);
      },
      down: () => {},
    });
    let seq = 0;
    const send = (body: ToDevice, nonce = '0a0a0a0a'): number => {
      s.link.send(encodeToDevice(nonce, ++seq, body));
      return seq;
    };
    const hello = (nonce?: string): number => send(HELLO, nonce);
    const order = async (...orders: Order[]): Promise<string> => {
      const re = send({ verb: 'order', orders });
      for (let i = 0; i < 40; i++) {
        await s.pass(20);
        send({ verb: 'feed', phase: 8 });
        const answer = said.find((b) => b.verb === 'answer' && b.re === re);
        if (answer?.verb === 'answer')
          return answer.failed === null ? answer.answer : `${answer.answer}@${answer.failed}`;
      }
      return 'silence';
    };
    const tags = () => said.flatMap((b) => (b.verb === 'tag' ? [b.kind] : []));
    const feed = () => send({ verb: 'feed', phase: 8 });
    const lastReport = () => said.findLast((b) => b.verb === 'report');
    return { ...s, said, hello, order, tags, feed, lastReport };
  }
  const enable: Order = { name: 'enable-converter', args: { matchA: 4 } };
  const set = (currentA: number, voltageV = 700): Order => ({
    name: 'setpoint',
    args: { currentA, voltageV },
  });
  const authority = (ceilingA: number, lifeMs = 5000): Order => ({
    name: 'authority',
    args: { ceilingA, slopeAPerS: 100, lifeMs },
  });
  const onOff = (plant: StubPlant): string[] =>
    plant.diary.map((d) => d.order.name).filter((n) => n.endsWith('-converter'));
  const standsA = (plant: StubPlant): number | undefined =>
    plant.diary.flatMap(({ order }) => (order.name === 'setpoint' ? [order.args.currentA] : [])).at(-1);

  async function energised() {
    const t = await talking();
    t.hello();
    t.feed();
    await t.order(enable);
    return t;
  }

  it('welcomes with what the instrument says of itself and what its map holds it to', async () => {
    const t = await talking();
    t.hello();
    await t.pass(50);
    expect(t.said[0]).toMatchObject({
      verb: 'welcome',
      model: name === 'depot-module' ? 'PM-850-320' : 'DC-SOURCE-850-320',
      calibratedOn: 20300101,
      maxCurrentA: 320,
      maxVoltageV: 850,
      roles: ['converter'],
      latched: false,
    });
    await t.end();
  });

  it('permits what a device would, and nothing else', async () => {
    const t = await talking();
    t.hello();
    // Nobody has fed it yet.
    await t.pass(30);
    const early = t.order(enable);
    expect(await early).toBe('not-permitted@0');
    expect(await t.order(set(1))).toBe('not-permitted@0');
    expect(await t.order({ name: 'close-p', args: {} })).toBe('unknown-order@0');
    expect(await t.order({ name: 'enable-converter', args: { matchA: 321 } })).toBe('not-permitted@0');
    expect(await t.order(enable)).toBe('done');
    expect(await t.order(set(4))).toBe('done');
    expect(await t.order(set(5))).toBe('no-authority@0');
    expect(await t.order(authority(321))).toBe('not-permitted@0');
    expect(await t.order(authority(50), set(20))).toBe('done');
    expect(await t.order(set(51))).toBe('no-authority@0');
    expect(await t.order(set(20, 851))).toBe('not-permitted@0');
    expect(await t.order({ name: 'disable-converter', args: {} })).toBe('done');
    expect(onOff(t.plant)).toEqual(['enable-converter', 'disable-converter']);
    await t.end();
  });

  it('raises the set-point by the slope of the authority, and lets it fall when that runs out', async () => {
    const t = await energised();
    await t.order(authority(50, 700), set(40));
    expect(standsA(t.plant)).toBeLessThan(20);
    for (let i = 0; i < 5; i++) {
      await t.pass(100);
      t.feed();
    }
    expect(standsA(t.plant)).toBe(40);
    for (let i = 0; i < 20; i++) {
      await t.pass(100);
      t.feed();
    }
    expect(t.tags()).toContain('authority-expired');
    expect(standsA(t.plant)).toBe(0);
    await t.end();
  });

  it('makes safe when it is no longer fed, once, and holds the latch until it is cleared', async () => {
    const t = await energised();
    t.plant.outputV = 700;
    await t.pass(600);
    expect(t.tags()).toEqual(['watchdog', 'latched', 'make-safe', 'converter-off', 'safe-end']);
    expect(onOff(t.plant)).toEqual(['enable-converter', 'disable-converter']);
    expect(t.lastReport()).toMatchObject({ roles: { device: { latched: 1, madeSafe: 1 } } });
    t.feed();
    expect(await t.order(enable)).toBe('latched@0');
    // 700 V can be touched yet.
    expect(await t.order({ name: 'clear-latch', args: {} })).toBe('not-permitted@0');
    t.plant.outputV = 12;
    await t.pass(100);
    expect(await t.order({ name: 'clear-latch', args: {} })).toBe('done');
    expect(await t.order(enable)).toBe('done');
    await t.end();
  });

  it('makes safe when told, wherever it stands in the frame', async () => {
    const t = await energised();
    expect(await t.order({ name: 'close-n', args: {} }, { name: 'make-safe', args: {} })).toBe(
      'unknown-order@0',
    );
    expect(onOff(t.plant).at(-1)).toBe('disable-converter');
    await t.end();
  });

  it('makes safe when a new session comes while it is energised', async () => {
    const t = await energised();
    t.hello('0b0b0b0b');
    await t.pass(100);
    expect(onOff(t.plant).at(-1)).toBe('disable-converter');
    expect(t.said.findLast((b) => b.verb === 'welcome')).toMatchObject({ latched: true });
    await t.end();
  });

  it('switches off when it is closed', async () => {
    const t = await energised();
    await t.link.close();
    expect(onOff(t.plant).at(-1)).toBe('disable-converter');
    await t.end();
  });

  it('leaves an output on when it dies: then the watchdog of the instrument takes it off, as its map had it set', async () => {
    const t = await energised();
    t.cut();
    await t.pass(400);
    expect(onOff(t.plant)).toEqual(['enable-converter']);
    await t.pass(200);
    expect(onOff(t.plant)).toEqual(['enable-converter', 'disable-converter']);
    await t.end();
  });

  it('comes up latched where it finds the output on, and switches it off first', async () => {
    const s = stand(name);
    // Left on by somebody who vanished, with no watchdog set.
    await s.wire.open(ears().events);
    s.wire.send(name === 'depot-module' ? '1106020000014b22' : 'OUTP:STAT ON');
    await s.pass(20);
    expect(onOff(s.plant)).toEqual(['enable-converter']);
    await s.wire.close();
    const heard = ears();
    await s.link.open(heard.events);
    expect(onOff(s.plant)).toEqual(['enable-converter', 'disable-converter']);
    s.link.send(encodeToDevice('0c0c0c0c', 1, HELLO));
    await s.pass(50);
    expect(heard.lines[0]).toMatch(/ welcome .* latched:1\*/);
    await s.end();
  });

  it('sends no more samples when the instrument is silent, though its reports go on', async () => {
    const t = await talking();
    t.hello();
    await t.pass(200);
    const before = t.lastReport();
    t.wire.far.listen(() => {});
    await t.pass(400);
    const sampleOf = (b: typeof before) => (b?.verb === 'report' ? b.roles.converter?.sample : Number.NaN);
    const stale = sampleOf(t.lastReport());
    await t.pass(300);
    expect(sampleOf(t.lastReport())).toBe(stale);
    expect(t.lastReport()).not.toEqual(before);
    expect(t.tags()).toContain('no-answer');
    await t.end();
  });

  it('says so when the instrument is not there', async () => {
    const s = stand(name);
    s.wire.far.listen(() => {});
    const error = await s.link.open(ears().events).catch((e: unknown) => e);
    expect(error).toBeInstanceOf(PortError);
    expect((error as PortError).why).toMatch(/no answer to \*IDN\?|gives no identity/);
    await s.end();
  });
});
