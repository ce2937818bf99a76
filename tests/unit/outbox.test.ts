/** Orders on their way out: durable ones wait for the journal and are asked again; nothing safer waits. */
import { describe, expect, it } from 'vitest';
import { JournalWriter } from '../../src/journal/writer.js';
import { decodeToDevice } from '../../src/link/codec.js';
import type { Order } from '../../src/rig/orders.js';
import type { GateView } from '../../src/supervisor/gate.js';
import { Outbox } from '../../src/supervisor/outbox.js';

const order = (name: Order['name'], args: object = {}): Order => ({ name, args }) as Order;
const OPEN: GateView = {
  phase: 'closing',
  tripped: false,
  ended: false,
  proofs: new Set([
    ...[
      'secured',
      'presence',
      'isolation-dead',
      'isolation-joined',
      'voltage-matched',
      'closed-p',
      'closed-n',
    ],
  ] as const),
  fresh: true,
  matchesVoltage: true,
  authorityA: 100,
  matchCurrentA: 4,
  leastLimitA: 300,
  setpointA: 0,
};

/** An outbox on two ports: power orders leave on port 0, everything else on port 1. */
function bench() {
  let text = '';
  let syncDone: ((error: Error | null) => void) | null = null;
  const sent: { port: number; seq: number; names: string[] }[] = [];
  const noted: string[] = [];
  const held = { gate: OPEN };
  const journal = new JournalWriter(
    {
      path: 'memory',
      append: (more) => {
        text += more;
      },
      sync: (done) => {
        syncDone = done;
      },
      close: async () => {},
    },
    (upTo) => outbox.synced(upTo, 50),
    () => {},
  );
  const outbox: Outbox = new Outbox(
    {
      nonce: '11111111',
      ports: 2,
      portsOf: (o) => {
        if (o.name === 'make-safe') return [0, 1];
        return ['setpoint', 'authority', 'enable-converter'].includes(o.name) ? [0] : [1];
      },
      send: (port, line) => {
        const decoded = decodeToDevice(line);
        if (!decoded.ok || decoded.frame.body.verb !== 'order') throw new Error(`no order: ${line}`);
        sent.push({ port, seq: decoded.frame.seq, names: decoded.frame.body.orders.map((o) => o.name) });
        return true;
      },
      gate: () => held.gate,
      energising: () => noted.push('about to energise'),
      sent: (o) => noted.push(o.name),
    },
    journal,
  );
  const records = (kind: string) => {
    journal.flush();
    return text
      .split('\n')
      .filter((line) => line.includes(`"k":"${kind}"`))
      .map((line) => JSON.parse(line).b);
  };
  /** The store confirms what it was asked for. */
  const confirm = () => {
    const done = syncDone;
    syncDone = null;
    done?.(null);
  };
  return { outbox, sent, noted, held, records, confirm };
}

describe('the outbox', () => {
  it('sends what only makes safer at once, and journals it after', () => {
    const { outbox, sent, records } = bench();
    outbox.dispatch([order('make-safe')], 10);
    expect(sent.map((s) => s.port)).toEqual([0, 1]);
    expect(records('order')).toMatchObject([{ port: 0, sent: true }, { port: 1 }]);
  });

  it('holds a durable order until the journal has it, with what follows it', () => {
    const { outbox, sent, noted, records, confirm } = bench();
    outbox.dispatch([order('open-pre'), order('close-p'), order('pilot', { on: 1 })], 10);
    expect(sent.map((s) => s.names)).toEqual([['open-pre']]);
    expect(records('order').at(-1)).toMatchObject({ durable: true, orders: [{ name: 'close-p' }, {}] });
    expect(outbox.waiting).toBe(true);
    confirm();
    expect(outbox.waiting).toBe(false);
    expect(sent.at(-1)?.names).toEqual(['close-p', 'pilot']);
    // The mark on disk comes before the order, not after it.
    expect(noted).toEqual(['open-pre', 'about to energise', 'close-p', 'pilot']);
  });

  it('asks the gate again when the journal has it: a trip meanwhile drops it', () => {
    const { outbox, sent, held, records, confirm } = bench();
    outbox.dispatch([order('close-p')], 10);
    held.gate = { ...OPEN, tripped: true };
    confirm();
    expect(sent).toEqual([]);
    expect(records('dropped')).toMatchObject([{ orders: [{ name: 'close-p' }], why: 'a trip stands' }]);
  });

  it('lets make-safe past orders that wait', () => {
    const { outbox, sent, confirm, held } = bench();
    outbox.dispatch([order('close-p')], 10);
    outbox.dispatch([order('make-safe')], 11);
    held.gate = { ...OPEN, tripped: true };
    confirm();
    expect(sent.map((s) => s.names)).toEqual([['make-safe'], ['make-safe']]);
  });

  it('drops the rest of a group with the order the gate holds back', () => {
    const { outbox, sent, records, held } = bench();
    held.gate = { ...OPEN, authorityA: 10 };
    outbox.dispatch([order('setpoint', { currentA: 50, voltageV: 700 }), order('open-pre')], 10);
    expect(sent).toEqual([]);
    expect(records('dropped')[0].orders).toHaveLength(2);
  });

  it('bounds what waits for the journal, and says what it drops', () => {
    const { outbox, records } = bench();
    for (let i = 0; i < 70; i++) outbox.dispatch([order('close-p')], 10);
    expect(records('dropped')).toHaveLength(6);
    expect(records('dropped')[0].why).toMatch(/too many/);
  });

  it('counts frames of each port by itself', () => {
    const { outbox, sent } = bench();
    outbox.dispatch([order('open-p')], 1);
    outbox.dispatch([order('open-n')], 2);
    outbox.dispatch([order('disable-converter'), order('setpoint', { currentA: 0, voltageV: 0 })], 3);
    expect(sent.filter((s) => s.port === 1).map((s) => s.seq)).toEqual([1, 2, 3]);
    expect(sent.filter((s) => s.port === 0).map((s) => s.seq)).toEqual([1]);
  });

  it('says again what has no answer, but not what was replaced or is no longer permitted', () => {
    const { outbox, sent, held } = bench();
    const set = (currentA: number) => order('setpoint', { currentA, voltageV: 700 });
    outbox.dispatch([set(10)], 0);
    outbox.dispatch([set(20)], 10);
    outbox.insist(300, 200);
    // The first was replaced by the second before it could be said again.
    expect(sent.map((s) => s.seq)).toEqual([1, 2, 3]);
    held.gate = { ...OPEN, authorityA: 5 };
    outbox.insist(600, 200);
    expect(sent).toHaveLength(3);
  });

  it('says again in their order what could not be done because the order before it was lost', () => {
    const { outbox, sent } = bench();
    outbox.dispatch([order('open-p')], 0);
    outbox.dispatch([order('bleed-output', { on: 1 })], 70);
    const refused = { verb: 'answer', re: 2, answer: 'not-permitted', failed: 0 } as const;
    const found = outbox.answered(1, refused);
    expect(outbox.olderWaits(1, 2)).toBe(true);
    expect(outbox.olderWaits(1, 1)).toBe(false);
    if (found !== null) outbox.postpone(found, 72);
    outbox.insist(200, 100);
    expect(sent.slice(2).map((s) => s.names)).toEqual([['open-p'], ['bleed-output']]);
    // Its time runs from when it was first said.
    expect(outbox.overdue(672, 600)?.orders[0]?.name).toBe('open-p');
    expect(outbox.overdue(672, 600)?.orders[0]?.name).toBe('bleed-output');
  });

  it('matches answers by port and frame, each once', () => {
    const { outbox } = bench();
    outbox.dispatch([order('make-safe')], 0);
    const done = { verb: 'answer', re: 1, answer: 'done', failed: null } as const;
    expect(outbox.answered(1, { ...done, re: 7 })).toBeNull();
    expect(outbox.answered(1, done)?.orders[0]?.name).toBe('make-safe');
    expect(outbox.answered(1, done)).toBeNull();
    expect(outbox.overdue(500, 600)).toBeNull();
    expect(outbox.overdue(700, 600)).toMatchObject({ port: 0, seq: 1 });
    expect(outbox.overdue(700, 600)).toBeNull();
  });
});
