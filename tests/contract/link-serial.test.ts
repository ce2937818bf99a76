import { afterEach, describe, expect, it } from 'vitest';
import { openPty, type Pty } from '../../simulators/pty.js';
import { realClock } from '../../src/host/clock.js';
import { PortError } from '../../src/link/link.js';
import { SerialLink } from '../../src/link/serial.js';
import { ears, linkContract } from './link.contract.js';

const pass = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));
const serial = (path: string): SerialLink =>
  new SerialLink({ clock: realClock, port: 'main', path, baud: 115200 });
const killKeeper = (pty: Pty): void => {
  process.kill(pty.keeperPid, 'SIGKILL');
};

/** Holds up the event loop, as a long step would. */
function block(ms: number): void {
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, ms);
}

async function expectIdle(ms: number): Promise<void> {
  const before = process.cpuUsage();
  await pass(ms);
  const used = process.cpuUsage(before);
  expect((used.user + used.system) / 1000).toBeLessThan(0.2 * ms);
}

linkContract(
  'serial over a pseudo-terminal',
  async () => {
    const pty = await openPty(realClock);
    const received: string[] = [];
    let rest = '';
    pty.onData((bytes) => {
      const parts = (rest + bytes).split('\n');
      rest = parts.pop() as string;
      received.push(...parts);
    });
    const link = serial(pty.path);
    const end = async () => {
      await link.close();
      pty.close();
    };
    return { link, received, inject: (bytes) => pty.write(bytes), pass, cut: () => killKeeper(pty), end };
  },
  async () => serial('/dev/tty-that-is-not-there'),
);

describe('serial link', () => {
  let pty: Pty | null = null;
  afterEach(() => {
    pty?.close();
    pty = null;
  });

  it('says that a port is busy, and what to do', async () => {
    pty = await openPty(realClock);
    const first = serial(pty.path);
    await first.open(ears().events);
    const error = (await serial(pty.path)
      .open(ears().events)
      .catch((e: unknown) => e)) as PortError;
    expect(error).toBeInstanceOf(PortError);
    expect(error.why).toBe('another program holds it');
    await first.close();
    const again = serial(pty.path);
    await again.open(ears().events);
    await again.close();
  });

  it.each([
    ['/dev/tty-that-is-not-there', 'there is no such port'],
    ['/dev/null', 'it is not a serial port'],
  ])('says what is wrong with %s', async (path, why) => {
    const error = (await serial(path)
      .open(ears().events)
      .catch((e: unknown) => e)) as PortError;
    expect(error).toBeInstanceOf(PortError);
    expect(error.why).toBe(why);
  });

  it('can be closed while it opens', async () => {
    pty = await openPty(realClock);
    const link = serial(pty.path);
    const opening = link.open(ears().events);
    await link.close();
    await expect(opening).rejects.toThrow('closed while opening');
    await link.open(ears().events);
    await link.close();
  });

  // The trap: when the other end goes while a read is under way, the system reports nothing, and reading again
  // and again keeps a core busy. A killed keeper is mostly told, a closed master is not.
  const gone: Record<string, (p: Pty) => void> = {
    'keeper killed': killKeeper,
    'master closed': (p) => p.close(),
  };
  it.each([
    ['keeper killed', 'before the first read', true, 0],
    ['master closed', 'before the first read', true, 0],
    ['keeper killed', 'idle', false, 0],
    ['master closed', 'idle', false, 0],
    ['master closed', 'in a flood of bytes', false, 40],
  ])(
    'a terminal hung up (%s, %s) is down soon and costs no processor time',
    async (how, _when, early, writes) => {
      pty = await openPty(realClock);
      const heard = ears();
      const link = serial(pty.path);
      const opening = link.open(heard.events);
      if (early)
        block(50); // the port is open by now, but nobody has heard of it
      else await opening;
      for (let i = 0; i < writes; i++) pty.write(`${'f'.repeat(100)}\n`);
      if (writes > 0) block(10);
      gone[how]?.(pty);
      block(20);
      await opening;
      for (let i = 0; i < 100 && heard.downs.length === 0; i++) await pass(10);
      expect(heard.downs).toHaveLength(1);
      await expectIdle(1000);
      await link.close();
    },
  );

  it('closing alone also ends it, when nothing was noticed yet', async () => {
    pty = await openPty(realClock);
    const link = serial(pty.path);
    const opening = link.open(ears().events);
    block(50);
    pty.close();
    block(20);
    await opening;
    await link.close();
    await expectIdle(1000);
  });

  it('closes soon even when nobody takes its output', async () => {
    pty = await openPty(realClock);
    const link = serial(pty.path);
    await link.open(ears().events);
    pty.hold(true);
    await pass(20);
    let taken = 0;
    // 64 kB of kernel buffer and our queue are full in the end, however much time there is to write.
    for (let i = 0; i < 80; i++) {
      if (link.send('w'.repeat(2000))) taken++;
      await pass(2);
    }
    expect(taken).toBeLessThan(60);
    expect(link.send('w'.repeat(2000))).toBe(false);
    const start = process.hrtime.bigint();
    await link.close();
    expect(Number(process.hrtime.bigint() - start) / 1e6).toBeLessThan(1500);
  });
});
