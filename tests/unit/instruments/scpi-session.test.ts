/** One conversation with a SCPI instrument: what is in step, what is not, and what an order to switch off overtakes. */
import { describe, expect, it } from 'vitest';
import { VirtualClock } from '../../../simulators/virtual-clock.js';
import { ScpiSession } from '../../../src/instruments/scpi-session.js';
import { overtaken, type Trouble } from '../../../src/instruments/talk.js';
import type { Link, LinkEvents } from '../../../src/link/link.js';

const IDENTITY = 'MAKER,DC-1,7,1.0';

class Line implements Link {
  readonly port = 'line';
  readonly generation = 1;
  readonly dropped = { lines: 0, bytes: 0 };
  readonly sent: string[] = [];
  events: LinkEvents | null = null;
  takes = true;
  async open(events: LinkEvents): Promise<void> {
    this.events = events;
  }
  send(line: string): boolean {
    if (this.takes) this.sent.push(line);
    return this.takes;
  }
  async close(): Promise<void> {}
  hear(line: string): void {
    this.events?.line(line);
  }
}

async function session() {
  const clock = new VirtualClock();
  const line = new Line();
  const troubles: Trouble[] = [];
  const downs: string[] = [];
  const one = new ScpiSession({
    clock,
    link: line,
    answerMs: 50,
    gapMs: 3,
    identityAsk: '*IDN?',
    trouble: (t) => troubles.push(t),
  });
  const pass = (ms: number): void => {
    clock.runUntil(clock.nowMs() + ms);
  };
  await one.open((reason) => downs.push(reason));
  const greeted = one.greet();
  pass(50);
  line.hear(IDENTITY);
  expect(await greeted).toBe(IDENTITY);
  pass(3);
  line.sent.length = 0;
  const ask = (...lines: string[]) => {
    const got: (string | Trouble | null)[] = [];
    one.ask(lines, (answer, trouble) => got.push(answer ?? trouble));
    return got;
  };
  return { line, one, troubles, downs, pass, ask };
}

/** Out of step, then quiet, then greeted to the letter. */
function recovers({ line, one, pass }: Awaited<ReturnType<typeof session>>, as = IDENTITY): boolean {
  pass(50);
  expect(line.sent.at(-1)).toBe('*IDN?');
  line.hear(as);
  pass(3);
  return one.inStep;
}

describe('a question', () => {
  it('waits for the answer before it and a pause', async () => {
    const s = await session();
    const [first, second] = [s.ask('A?'), s.ask('SET 1', 'B?')];
    expect(s.line.sent).toEqual(['A?']);
    s.line.hear('1\r');
    expect(first).toEqual(['1']);
    expect(s.line.sent).toEqual(['A?']);
    s.pass(3);
    expect(s.line.sent).toEqual(['A?', 'SET 1', 'B?']);
    s.line.hear('2');
    expect(second).toEqual(['2']);
  });

  it('is not taken when too many wait', async () => {
    const s = await session();
    const all = Array.from({ length: 20 }, () => s.ask('A?'));
    expect(all.at(-1)).toEqual([{ kind: 'no-answer', value: 0, text: 'too many questions wait' }]);
    expect(all.filter((got) => got.length === 0).length).toBe(17);
  });

  it('fails when the port goes, and so does the next', async () => {
    const s = await session();
    const got = s.ask('A?');
    s.line.events?.down('torn off');
    expect(got).toEqual([{ kind: 'no-answer', value: 0, text: 'torn off' }]);
    expect(s.downs).toEqual(['torn off']);
    expect(s.ask('A?')).toMatchObject([{ kind: 'no-answer' }]);
  });
});

describe('what is out of step', () => {
  it('no answer in time: everything that waits fails, and a late answer is not taken for the next', async () => {
    const s = await session();
    const [first, second] = [s.ask('A?'), s.ask('B?')];
    s.pass(52);
    for (const got of [first, second]) expect(got).toMatchObject([{ kind: 'no-answer', value: 50 }]);
    s.line.hear('1');
    expect(recovers(s)).toBe(true);
    const third = s.ask('C?');
    s.line.hear('3');
    expect(third).toEqual(['3']);
    expect([first, second].flat()).toHaveLength(2);
  });

  it('a second answer in the pause', async () => {
    const s = await session();
    s.ask('A?');
    s.line.hear('1');
    s.line.hear('1');
    expect(s.troubles).toEqual([{ kind: 'bad-answer', value: 0, text: 'unasked: "1"' }]);
    expect(s.one.inStep).toBe(false);
    expect(recovers(s)).toBe(true);
  });

  it('an answer that is no text', async () => {
    const s = await session();
    const got = s.ask('A?');
    s.line.hear('1\x802');
    expect(got).toMatchObject([{ kind: 'bad-answer' }]);
    expect(recovers(s)).toBe(true);
  });

  it('waits for a line that is quiet', async () => {
    const s = await session();
    s.line.hear('noise');
    for (let i = 0; i < 5; i++) {
      s.pass(40);
      s.line.hear('noise');
    }
    expect(s.line.sent).toEqual([]);
    expect(recovers(s)).toBe(true);
  });

  it('another instrument that answers in its place is not taken', async () => {
    const s = await session();
    s.line.hear('noise');
    expect(recovers(s, 'MAKER,DC-2,8,1.0')).toBe(false);
    expect(s.troubles.at(-1)?.text).toMatch(/another instrument: "MAKER,DC-2/);
    expect(recovers(s)).toBe(true);
  });

  it('is asked again and again, for as long as nobody answers', async () => {
    const s = await session();
    s.line.hear('noise');
    s.pass(1000);
    expect(s.line.sent.length).toBeGreaterThan(5);
    expect(new Set(s.line.sent)).toEqual(new Set(['*IDN?']));
    await s.one.close();
    const { length } = s.line.sent;
    s.pass(1000);
    expect(s.line.sent).toHaveLength(length);
  });
});

describe('an order to switch off', () => {
  it('goes out now, and what waits is not sent any more', async () => {
    const s = await session();
    const asked = s.ask('MEAS?');
    const waiting = s.ask('OUTP ON', 'SYST:ERR?');
    expect(s.one.urgent('OUTP OFF')).toBe(true);
    expect(waiting).toEqual([overtaken]);
    s.line.hear('12');
    expect(asked).toEqual(['12']);
    s.pass(200);
    expect(s.line.sent).toEqual(['MEAS?', 'OUTP OFF']);
  });

  it('goes out while the conversation is out of step', async () => {
    const s = await session();
    s.line.hear('noise');
    expect(s.one.urgent('OUTP OFF')).toBe(true);
    expect(s.line.sent).toEqual(['OUTP OFF']);
  });

  it('says when it could not be sent', async () => {
    const s = await session();
    s.line.takes = false;
    expect(s.one.urgent('OUTP OFF')).toBe(false);
  });
});
