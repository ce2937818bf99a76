/** Who stands at the ports is asked before anything is provoked. */
import { describe, expect, it } from 'vitest';
import { SIMULATED_IDENTITY } from '../../../simulators/device.js';
import { virtualDevices } from '../../../simulators/device-host.js';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { VirtualClock } from '../../../simulators/virtual-clock.js';
import { decodeToDevice, encodeToSupervisor } from '../../../src/link/codec.js';
import { PROTOCOL_VERSION, type ToSupervisor } from '../../../src/link/frames.js';
import { MemoryLink, NO_TROUBLE } from '../../../src/link/memory.js';
import { identify } from '../../../src/prove/identify.js';
import { StubPlant, stubRig } from '../../contract/stub-plant.js';

const PORTS = [
  { name: 'charger', roles: ['converter', 'contactor'] },
  { name: 'train', roles: ['train', 'raft'] },
];

const WELCOME: ToSupervisor = {
  ...SIMULATED_IDENTITY,
  ...{ verb: 'welcome', version: PROTOCOL_VERSION, roles: ['converter'], latched: false },
  ...{ maxCurrentA: 300, maxVoltageV: 900, watchdogMs: 500, periodMs: 100 },
};

/** Runs virtual time until the question is answered. */
async function settled<T>(clock: VirtualClock, asked: Promise<T>): Promise<T> {
  let open = true;
  const done = asked.finally(() => {
    open = false;
  });
  done.catch(() => {});
  for (let k = 0; open && k < 1000; k++) {
    clock.runUntil(clock.nowMs() + 50);
    await Promise.resolve();
  }
  return done;
}

function twoPorts() {
  const clock = new VirtualClock();
  const rig = stubRig(PORTS);
  const { links } = virtualDevices({ clock, plant: new StubPlant(), rig });
  return { clock, rig, links };
}

describe('asking who is there', () => {
  it('hears each port by its own identity, in the order of the rig, and closes it again', async () => {
    const { clock, rig, links } = twoPorts();
    const found = await settled(clock, identify(links, rig, clock, new SeededRandom(1)));
    expect(found.map(({ port }) => port)).toEqual([0, 1]);
    for (const device of found) expect(device).toMatchObject(SIMULATED_IDENTITY);
    for (const link of links) expect(link.send('?')).toBe(false);
  });

  it('names the port where nobody answers, and asks no later one', async () => {
    const { clock, rig, links } = twoPorts();
    const { name, baud } = rig.link.ports[0]!;
    const dead = new MemoryLink({ clock, port: name, baud, trouble: () => NO_TROUBLE });
    let opened = 0;
    const second = links[1]!;
    const open = second.open.bind(second);
    second.open = (heard) => {
      opened++;
      return open(heard);
    };
    const asked = settled(clock, identify([dead, second], rig, clock, new SeededRandom(1)));
    await expect(asked).rejects.toThrow(`port ${name}: no device answers there; no run was made`);
    expect(opened).toBe(0);
  });

  it('is not taken in by a welcome to another session', async () => {
    const { clock, rig } = twoPorts();
    const { name, baud } = rig.link.ports[0]!;
    const link = new MemoryLink({ clock, port: name, baud, trouble: () => NO_TROUBLE });
    link.far.listen((line) => {
      const hello = decodeToDevice(line);
      if (hello.ok) link.far.send(encodeToSupervisor('0badc0de', 1, WELCOME));
    });
    const asked = settled(clock, identify([link], rig, clock, new SeededRandom(1)));
    await expect(asked).rejects.toThrow('no device answers there');
  });
});
