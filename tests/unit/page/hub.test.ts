/** Everybody who watches: each event once and in order, states as fast as they are taken, nobody waits for anybody. */
import { describe, expect, it } from 'vitest';
import { VirtualClock } from '../../../simulators/virtual-clock.js';
import type { PageEvent, Snapshot, StateMessage } from '../../../src/page/api.js';
import { EventBook } from '../../../src/page/event-book.js';
import {
  Hub,
  type Message,
  MOST_OF_ONE,
  MOST_STREAMS,
  STALLED_MS,
  STATE_EVERY_MS,
  type Taker,
} from '../../../src/page/hub.js';
import { Pilot } from '../../../src/page/pilot.js';
import { streamText } from '../../../src/page/stream-text.js';
import { Traces } from '../../../src/page/traces.js';
import type { Watch } from '../../../src/page/watch.js';

const ROUND = STATE_EVERY_MS;
/** Every promise that can be kept is kept. */
const settle = (): Promise<void> => new Promise((resolve) => setImmediate(resolve));

/** Takes what it is given at once, or when it is let. */
class Page implements Taker {
  readonly got: Message[] = [];
  ended = 0;
  /** What waits to be taken; null: takes everything at once. */
  waiting: (() => void)[] | null = null;
  fails: Error | null = null;

  send(message: Message): Promise<void> {
    if (this.fails !== null) throw this.fails;
    this.got.push(message);
    if (this.waiting === null) return Promise.resolve();
    return new Promise((resolve) => this.waiting?.push(resolve));
  }
  end(): void {
    this.ended++;
  }
  async take(): Promise<void> {
    this.waiting?.shift()?.();
    await settle();
  }
  get events(): number[] {
    return this.got.filter((m) => m.event === 'event').map((m) => (m.data as PageEvent).id);
  }
  get states(): StateMessage[] {
    return this.got.filter((m) => m.event === 'state').map((m) => m.data as StateMessage);
  }
}

function desk() {
  const clock = new VirtualClock();
  const watch = { events: new EventBook(), traces: new Traces(), pilot: new Pilot() };
  const failures: string[] = [];
  const state = { looks: 0, fails: false };
  const look = (n: number): Snapshot => {
    state.looks++;
    if (state.fails) throw new Error('cannot look');
    return { n } as Snapshot;
  };
  const tell = { info() {}, warn() {}, error: (_: object, text: string) => void failures.push(text) };
  const hub = new Hub(clock, watch as unknown as Watch, look, tell);
  const say = (text = ''): number =>
    watch.events.add({
      ...{ atMs: 0, sessionMs: null, wallMs: 0, kind: 'session' as const, text, code: null },
      ...{ firstOut: false, refusal: null },
    }).id;
  const point = (): void => watch.traces.add(Array.from({ length: 12 }, () => 0));
  const rounds = async (n = 1): Promise<void> => {
    for (let i = 0; i < n; i++) {
      clock.runUntil(clock.nowMs() + ROUND);
      await settle();
    }
  };
  const join = (name = 'Ada', last = 0, untilMs?: number) => {
    const page = new Page();
    const leave = hub.join(name, page, last, untilMs);
    return { page, leave };
  };
  return { clock, watch, hub, state, failures, say, point, rounds, join };
}

describe('a page that takes everything', () => {
  it('is given every event once and in order, and the newest state five times a second', async () => {
    const d = desk();
    d.say();
    d.say();
    const { page } = d.join();
    await settle();
    expect(page.events).toEqual([1, 2]);
    expect(page.states).toHaveLength(1);
    for (let i = 0; i < 50; i++) {
      for (let k = 0; k < i % 4; k++) d.say();
      d.point();
      await d.rounds();
    }
    expect(page.events).toEqual(Array.from({ length: d.watch.events.last }, (_, i) => i + 1));
    expect(page.states).toHaveLength(51);
    const ns = page.states.map((s) => s.snapshot.n);
    expect(ns).toEqual([...ns].sort((a, b) => a - b));
    expect(new Set(ns).size).toBe(ns.length);
  });
  it('gets the points of the traces without a gap or a repetition', async () => {
    const d = desk();
    for (let i = 0; i < 7; i++) d.point();
    const { page } = d.join();
    for (let i = 0; i < 20; i++) {
      for (let k = 0; k < i; k++) d.point();
      await d.rounds();
    }
    let next = 7;
    for (const { first, points } of page.states) {
      expect(first).toBe(next);
      next += points.length;
    }
    expect(next).toBe(d.watch.traces.next);
  });
  it('comes back where it was', async () => {
    const d = desk();
    for (let i = 0; i < 10; i++) d.say();
    const { page } = d.join('Ada', 7);
    await settle();
    expect(page.events).toEqual([8, 9, 10]);
    expect(page.got.filter((m) => m.event === 'event').map((m) => m.id)).toEqual(['8', '9', '10']);
  });
  it('gets a long past in pieces, with states between', async () => {
    const d = desk();
    for (let i = 0; i < 1000; i++) d.say();
    const { page } = d.join();
    await settle();
    await d.rounds(6);
    expect(page.events).toEqual(Array.from({ length: 1000 }, (_, i) => i + 1));
    const at = page.got.findIndex((m) => m.event === 'state');
    expect(at).toBe(200);
  });
  it('is shown a burst of the pilot once', async () => {
    const d = desk();
    const { page } = d.join();
    await d.rounds();
    d.watch.pilot.take({ re: 1, part: 1, parts: 1, spacingNs: 5, samplesA: [1] } as never, 9);
    await d.rounds(3);
    expect(page.got.filter((m) => m.event === 'pilot')).toEqual([
      { event: 'pilot', data: { atMs: 9, spacingNs: 5, samplesA: [1] } },
    ]);
  });
});

describe('a page that takes slowly', () => {
  it('gets fewer states, every event, and nothing is kept for it meanwhile', async () => {
    const d = desk();
    const { page } = d.join();
    await settle();
    page.waiting = [];
    for (let i = 0; i < 100; i++) {
      d.say();
      d.point();
      await d.rounds();
      // Never more than the one thing it is taking.
      expect(page.waiting.length).toBeLessThanOrEqual(1);
      if (i % 10 === 9) await page.take();
    }
    const states = page.states.length;
    expect(states).toBeLessThan(12);
    page.waiting.forEach((take) => {
      take();
    });
    page.waiting = null;
    await settle();
    await d.rounds(3);
    expect(page.events).toEqual(Array.from({ length: 100 }, (_, i) => i + 1));
    const last = page.states.at(-1) as StateMessage;
    expect(last.first + last.points.length).toBe(100);
    expect(page.ended).toBe(0);
  });
  it('but takes something now and then is not let go, however much it is behind', async () => {
    const d = desk();
    for (let i = 0; i < 10; i++) d.say();
    // One message each 20 s: ten of them take far longer than a stall.
    const slow = d.join('Ben');
    slow.page.waiting = [];
    for (let i = 0; i < 10; i++) {
      await d.rounds(20_000 / ROUND);
      await slow.page.take();
    }
    expect([slow.page.ended, d.hub.isWatching('Ben')]).toEqual([0, true]);
  });
  it('and takes nothing at all is let go after half a minute, not before', async () => {
    const d = desk();
    const { page } = d.join();
    page.waiting = [];
    await settle();
    await d.rounds();
    await d.rounds(STALLED_MS / ROUND);
    expect([page.ended, d.hub.count]).toEqual([0, 1]);
    await d.rounds(2);
    expect([page.ended, d.hub.count]).toEqual([1, 0]);
    // Nothing more is sent to it, whatever it takes now.
    const got = page.got.length;
    d.say();
    await page.take();
    await d.rounds(5);
    expect([page.got.length, page.ended]).toEqual([got, 1]);
  });
  it('costs the others nothing', async () => {
    const d = desk();
    const stalled = Array.from({ length: 30 }, (_, i) => d.join(`stalled ${i}`).page);
    for (const page of stalled) page.waiting = [];
    const { page } = d.join();
    await settle();
    const looks = d.state.looks;
    for (let i = 0; i < 40; i++) {
      d.say();
      await d.rounds();
    }
    expect(page.states).toHaveLength(41);
    expect(page.events).toHaveLength(40);
    // Looked at once a round, whoever watches.
    expect(d.state.looks - looks).toBe(40);
  });
});

describe('a page that fails', () => {
  it.each(['send', 'end'] as const)('in %s is let go; the others are served', async (where) => {
    const d = desk();
    const { page } = d.join('bad');
    const good = d.join('good').page;
    await settle();
    if (where === 'end')
      page.end = () => {
        throw new Error('cannot end');
      };
    page.fails = new Error('gone');
    await d.rounds(3);
    expect([d.hub.isWatching('bad'), d.hub.isWatching('good')]).toEqual([false, true]);
    expect(good.states).toHaveLength(4);
    expect(d.failures).toEqual(where === 'end' ? ['a stream could not be ended'] : []);
  });
  it('whose promise is turned down later, too', async () => {
    const d = desk();
    const { page } = d.join();
    await settle();
    page.send = () => Promise.reject(new Error('gone'));
    await d.rounds();
    expect([page.ended, d.hub.count]).toEqual([1, 0]);
  });
});

describe('a state that cannot be told', () => {
  it('ends no round for ever: the next is told again', async () => {
    const d = desk();
    const { page } = d.join();
    await settle();
    d.state.fails = true;
    await d.rounds(3);
    expect(d.failures).toEqual(Array(3).fill('a round of the page failed; the session goes on'));
    d.state.fails = false;
    await d.rounds();
    expect([page.states.length, page.ended]).toEqual([2, 0]);
  });
  it('to one who joins ends that stream, so that the page sees it', async () => {
    const d = desk();
    d.state.fails = true;
    const { page, leave } = d.join();
    await settle();
    expect([page.ended, d.hub.count, typeof leave]).toEqual([1, 0, 'function']);
  });
  it('does not keep a stalled page', async () => {
    const d = desk();
    const { page } = d.join();
    await settle();
    page.waiting = [];
    await d.rounds();
    d.state.fails = true;
    await d.rounds(STALLED_MS / ROUND + 3);
    expect(page.ended).toBe(1);
  });
});

describe('who is there', () => {
  it('is known by name in any spelling, and how long gone', async () => {
    const d = desk();
    expect([d.hub.isWatching('Ada'), d.hub.awayMs('Ada')]).toEqual([false, Number.POSITIVE_INFINITY]);
    d.hub.greet('Ada');
    await d.rounds(5);
    expect(d.hub.awayMs('ADA')).toBe(5 * ROUND);
    const one = d.join('Ada');
    const two = d.join('ada');
    one.leave?.();
    expect([d.hub.isWatching('Ada'), d.hub.awayMs('Ada')]).toEqual([true, 0]);
    two.leave?.();
    await d.rounds(10);
    expect(d.hub.awayMs('Ada')).toBe(10 * ROUND);
  });
  it('is bounded in number, and who leaves makes room', async () => {
    const d = desk();
    const all = Array.from({ length: MOST_STREAMS }, (_, i) => d.join(`person ${i}`));
    expect(d.join('one more').leave).toBeNull();
    all[3]?.leave?.();
    all[3]?.leave?.();
    expect(d.hub.count).toBe(MOST_STREAMS - 1);
    expect(d.join('one more').leave).not.toBeNull();
  });
  it('is bounded for each, so that nobody keeps the others out', async () => {
    const d = desk();
    const all = Array.from({ length: MOST_STREAMS }, (_, i) => d.join(i % 2 === 0 ? 'Ada' : 'ADA'));
    expect(all.filter(({ leave }) => leave !== null)).toHaveLength(MOST_OF_ONE);
    expect(d.join('Ben').leave).not.toBeNull();
    all[0]?.leave?.();
    expect(d.join('Ada').leave).not.toBeNull();
  });
  it('is forgotten in the order of leaving, and bounded', async () => {
    const d = desk();
    for (let i = 0; i < 2000; i++) {
      d.hub.greet(`person ${i}`);
      d.hub.greet('Ada');
    }
    expect(d.hub.awayMs('Ada')).toBe(0);
    expect(d.hub.awayMs('person 1999')).toBe(0);
    expect(d.hub.awayMs('person 3')).toBe(Number.POSITIVE_INFINITY);
  });
  it('is shown nothing more once signed out, or once the sign-in has run out', async () => {
    const d = desk();
    const out = d.join('Ada').page;
    const old = d.join('Ben', 0, d.clock.wallMs() + 10 * ROUND).page;
    const here = d.join('Cem').page;
    d.hub.drop('ADA');
    expect([out.ended, d.hub.isWatching('Ada')]).toEqual([1, false]);
    await d.rounds(9);
    expect(old.ended).toBe(0);
    await d.rounds(2);
    expect([old.ended, here.ended, d.hub.count]).toEqual([1, 0, 1]);
    expect(old.states.length).toBeLessThan(here.states.length);
  });
  it('is nobody after the end, and nothing is looked at any more', async () => {
    const d = desk();
    const { page } = d.join();
    await settle();
    d.hub.stop();
    const { looks } = d.state;
    await d.rounds(10);
    expect([page.ended, d.hub.count, d.state.looks]).toEqual([1, 0, looks]);
  });
  it('or nobody at all costs no look', async () => {
    const d = desk();
    await d.rounds(10);
    expect(d.state.looks).toBe(0);
  });
});

describe('what goes over a stream', () => {
  it('is written as JSON writes it, the state once for all', async () => {
    const d = desk();
    const pages = ['Ada', 'Ben', 'Cem'].map((name) => d.join(name).page);
    d.say('a line\nof two');
    d.point();
    await d.rounds(3);
    const all = pages.flatMap((page) => page.got);
    expect(all.length).toBeGreaterThanOrEqual(12);
    for (const { data } of all) expect(streamText(data)).toBe(JSON.stringify(data));
    // Written already: whoever asks again is given that text.
    let written = 0;
    const last = pages[0]?.states.at(-1) as StateMessage;
    Object.defineProperty(last.snapshot, 'toJSON', { value: () => ++written });
    for (const page of pages) expect(streamText(page.states.at(-1))).toContain('"n":');
    expect(written).toBe(0);
    expect(streamText('x')).toBe('"x"');
  });
});
