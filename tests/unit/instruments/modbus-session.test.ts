/** Frames on the wire against the examples of the Modbus Application Protocol V1.1b3, chapter 6. */
import { describe, expect, it } from 'vitest';
import { modbusCrc } from '../../../simulators/peers/modbus-module.js';
import { VirtualClock } from '../../../simulators/virtual-clock.js';
import { ModbusSession, type Request } from '../../../src/instruments/modbus-session.js';
import type { Trouble } from '../../../src/instruments/talk.js';
import type { ByteEvents, ByteLink } from '../../../src/link/link.js';

const bytes = (hex: string): number[] => hex.split(' ').map((h) => Number.parseInt(h, 16));
const sealed = (hex: string): Uint8Array => {
  const body = bytes(hex);
  const crc = modbusCrc(body);
  return Uint8Array.from([...body, crc & 0xff, crc >> 8]);
};
const IDENTITY = { read: 'input', address: 0, registers: 1 } as const;

class Line implements ByteLink {
  readonly port = 'line';
  readonly sent: string[] = [];
  events: ByteEvents | null = null;
  async open(events: ByteEvents): Promise<void> {
    this.events = events;
  }
  write(data: Uint8Array): boolean {
    this.sent.push(Buffer.from(data).toString('hex').replace(/../g, '$& ').trim());
    return true;
  }
  async close(): Promise<void> {}
  hear(data: Uint8Array): void {
    this.events?.bytes(data);
  }
}

/** A session that has been greeted, and what it does with one request and one answer. */
async function session() {
  const clock = new VirtualClock();
  const line = new Line();
  const troubles: Trouble[] = [];
  const options = { unit: 0x11, answerMs: 50, gapMs: 3, identity: IDENTITY };
  const one = new ModbusSession({ clock, link: line, ...options, trouble: (t) => troubles.push(t) });
  await one.open(() => {});
  const greeted = one.greet();
  clock.runUntil(50);
  line.hear(sealed('11 04 02 AB CD'));
  expect(await greeted).toEqual([0xabcd]);
  clock.runUntil(60);
  line.sent.length = 0;
  const ask = (request: Request) => {
    const got: { registers: readonly number[] | null; trouble: Trouble | null }[] = [];
    one.ask(request, (registers, trouble) => got.push({ registers, trouble }));
    return got;
  };
  return { clock, line, one, troubles, ask };
}

describe('a request and its answer', () => {
  it.each([
    // 6.3, read holding registers 108 to 110
    [
      '11 03 00 6b 00 03',
      '11 03 06 02 2B 00 00 00 64',
      { read: 'holding', address: 107, registers: 3 },
      [555, 0, 100],
    ],
    // 6.4, read input register 9
    ['11 04 00 08 00 01', '11 04 02 00 0A', { read: 'input', address: 8, registers: 1 }, [10]],
    // 6.6, write register 2 to 00 03 hex
    ['11 06 00 01 00 03', '11 06 00 01 00 03', { write: [3], address: 1 }, []],
    // 6.12, write two registers from 2 to 00 0A and 01 02 hex
    ['11 10 00 01 00 02 04 00 0a 01 02', '11 10 00 01 00 02', { write: [0x0a, 0x0102], address: 1 }, []],
  ] as const)('%s', async (sent, answer, request, registers) => {
    const { line, ask } = await session();
    const got = ask(request as unknown as Request);
    expect(line.sent).toEqual([Buffer.from(sealed(sent)).toString('hex').replace(/../g, '$& ').trim()]);
    // In two pieces, as a serial port gives them.
    const whole = sealed(answer);
    line.hear(whole.slice(0, 3));
    expect(got).toEqual([]);
    line.hear(whole.slice(3));
    expect(got).toEqual([{ registers, trouble: null }]);
  });

  it('the frame of a station 17 as published: 11 03 00 6B 00 03 76 87', async () => {
    const { line, ask } = await session();
    ask({ read: 'holding', address: 107, registers: 3 });
    expect(line.sent).toEqual(['11 03 00 6b 00 03 76 87']);
  });
});

describe('an answer that is wrong', () => {
  const ASKED: Request = { read: 'holding', address: 107, registers: 3 };
  const GOOD = '11 03 06 02 2B 00 00 00 64';

  it('an exception is named, and the conversation goes on', async () => {
    const { clock, line, one, ask } = await session();
    const got = ask(ASKED);
    line.hear(sealed('11 83 02'));
    expect(got[0]).toMatchObject({ registers: null, trouble: { kind: 'modbus-exception', value: 2 } });
    expect(got[0]?.trouble?.text).toBe('reading holding 107: exception 2, illegal data address');
    clock.runUntil(clock.nowMs() + 5);
    expect(one.inStep).toBe(true);
  });

  it.each([
    ['a wrong check', 'bad-crc', Uint8Array.from([...sealed(GOOD).slice(0, -1), 0])],
    ['another station', 'bad-answer', sealed('12 03 06 02 2B 00 00 00 64')],
    ['another function', 'bad-answer', sealed('11 04 06 02 2B 00 00 00 64')],
  ] as const)(
    '%s: %s, and nothing is believed until the station is greeted again',
    async (_, kind, frame) => {
      const { clock, line, one, ask } = await session();
      const got = ask(ASKED);
      line.hear(frame);
      expect(got[0]).toMatchObject({ registers: null, trouble: { kind } });
      expect(one.inStep).toBe(false);
      expect(ask(ASKED)[0]?.trouble?.kind).toBe('no-answer');
      line.sent.length = 0;
      clock.runUntil(clock.nowMs() + 50);
      expect(line.sent).toHaveLength(1);
      line.hear(sealed('11 04 02 AB CD'));
      clock.runUntil(clock.nowMs() + 5);
      expect(one.inStep).toBe(true);
    },
  );

  it('another instrument in its place is not taken', async () => {
    const { clock, line, one, troubles, ask } = await session();
    ask(ASKED);
    clock.runUntil(clock.nowMs() + 60);
    clock.runUntil(clock.nowMs() + 50);
    line.hear(sealed('11 04 02 AB CE'));
    clock.runUntil(clock.nowMs() + 5);
    expect(one.inStep).toBe(false);
    expect(troubles.at(-1)?.text).toBe('another instrument answers');
  });

  it('none in time is none, and one that comes late is thrown away', async () => {
    const { clock, line, ask } = await session();
    const got = ask(ASKED);
    clock.runUntil(clock.nowMs() + 55);
    expect(got[0]).toMatchObject({ registers: null, trouble: { kind: 'no-answer', value: 50 } });
    line.hear(sealed(GOOD));
    expect(got).toHaveLength(1);
  });

  it('bytes nobody asked for end the conversation', async () => {
    const { line, one, troubles } = await session();
    line.hear(sealed(GOOD));
    expect(one.inStep).toBe(false);
    expect(troubles.at(-1)).toMatchObject({ kind: 'bad-answer', text: '11 bytes nobody asked for' });
  });
});

describe('an order to switch off', () => {
  it('waits for the answer under way, and for nothing that waits', async () => {
    const { clock, line, one, ask } = await session();
    ask({ read: 'holding', address: 107, registers: 3 });
    const waiting = ask({ write: [1], address: 512 });
    one.urgent({ write: [0], address: 512 });
    expect(waiting[0]?.trouble?.text).toMatch(/switch off came first/);
    expect(line.sent).toHaveLength(1);
    line.hear(sealed('11 03 06 02 2B 00 00 00 64'));
    clock.runUntil(clock.nowMs() + 4);
    expect(line.sent.at(-1)).toMatch(/^11 06 02 00 00 00 /);
    expect(line.sent).toHaveLength(2);
  });

  it('is sent even when the answer under way never comes', async () => {
    const { clock, line, one, ask } = await session();
    ask({ read: 'holding', address: 107, registers: 3 });
    one.urgent({ write: [0], address: 512 });
    expect(line.sent).toHaveLength(1);
    clock.runUntil(clock.nowMs() + 53);
    expect(line.sent.at(-1)).toMatch(/^11 06 02 00 00 00 /);
  });

  it('is sent at once where the conversation is out of step', async () => {
    const { line, one } = await session();
    line.hear(Uint8Array.from([1, 2, 3]));
    one.urgent({ write: [0], address: 512 });
    expect(line.sent.at(-1)).toMatch(/^11 06 02 00 00 00 /);
  });
});
