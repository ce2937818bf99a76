/**
 * Fifty pages on real sockets while a session runs, and one that takes nothing: every page is given every event once, the
 * session is to the byte the same as with nobody watching, and memory stays. `npm run acceptance:streams` does it in real
 * time and measures the stop path meanwhile.
 */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import http from 'node:http';
import { type AddressInfo, connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { afterAll, describe, expect, it } from 'vitest';
import { Desk } from './desk.js';

const PAGES = 50;
const state = mkdtempSync(path.join(tmpdir(), 'loopwarden-streams-'));
const desks: Desk[] = [];
afterAll(async () => {
  for (const desk of desks) await desk.close();
  rmSync(state, { recursive: true, force: true });
});

const breathe = (): Promise<void> => new Promise((resolve) => setImmediate(resolve));
setFlagsFromString('--expose-gc');
const collect = runInNewContext('gc') as () => void;
const heapMb = (): number => {
  collect();
  return process.memoryUsage().heapUsed / 2 ** 20;
};

/** A page as a browser has one open: it keeps the numbers of events, and how much came. */
class Streamed {
  readonly ids: number[] = [];
  states = 0;
  bytes = 0;
  status = 0;
  closed = false;
  readonly #request: http.ClientRequest;
  #rest = '';

  constructor(port: number, cookie: string) {
    const headers = { cookie, accept: 'text/event-stream', 'last-event-id': '0' };
    this.#request = http.get(
      { port, host: '127.0.0.1', path: '/api/stream', headers, agent: false },
      (answer) => {
        this.status = answer.statusCode ?? 0;
        answer.on('data', (piece: Buffer) => this.#take(piece.toString()));
        answer.on('close', () => {
          this.closed = true;
        });
      },
    );
    this.#request.on('error', () => {});
  }

  #take(text: string): void {
    this.bytes += text.length;
    const parts = (this.#rest + text).split('\n\n');
    this.#rest = parts.pop() as string;
    for (const part of parts) {
      if (part.includes('event: state')) this.states++;
      const id = /^id: (\d+)$/m.exec(part)?.[1];
      if (id !== undefined) this.ids.push(Number(id));
    }
  }

  close(): void {
    this.#request.destroy();
  }
}

/** Not by the door, which lets in thirty a minute. */
function signedIn(desk: Desk, name: string): string {
  const { people } = desk.context;
  const done = people.signIn(people.invite('watcher')?.invitation ?? '', name, () => false);
  if (typeof done === 'string') throw new Error(done);
  return done.token;
}

async function session(pages: number) {
  const desk = await Desk.open(mkdtempSync(path.join(state, 'desk-')));
  desks.push(desk);
  // Slow enough that there are rounds to be told while it runs.
  desk.bench.speed = 10;
  const ada = await desk.inControl();
  const names = Array.from({ length: pages }, (_, i) => `page ${i}`);
  const tokens = names.map((name) => signedIn(desk, name));
  await desk.app.listen({ host: '127.0.0.1', port: 0 });
  const { port } = desk.app.server.address() as AddressInfo;
  const open = tokens.slice(1).map((token) => new Streamed(port, `loopwarden-${port}=${token}`));
  let stalled: Socket | null = null;
  if (pages > 0) {
    const cookie = `loopwarden-${port}=${tokens[0]}`;
    stalled = connect(port, '127.0.0.1');
    stalled.on('error', () => {});
    stalled.pause();
    stalled.write(`GET /api/stream HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nCookie: ${cookie}\r\n\r\n`);
    while (desk.context.hub.count < pages) await breathe();
  }
  const before = heapMb();
  await desk.post('/api/orders', ada, { order: 'start', wish: { targetEnergyKwh: 0.2 } });
  await desk.driver.until(() => desk.bench.running === null, 300);
  // What is under way over the sockets arrives.
  for (let i = 0; i < 200; i++) {
    await desk.driver.pump();
    await breathe();
  }
  const grownMb = heapMb() - before;
  const journal = desk.context.watch.ended?.journal ?? '';
  return { desk, open, stalled, grownMb, journal: readFileSync(journal, 'utf8') };
}

describe('fifty streams', () => {
  it('change nothing in a session, are each told everything, and one that takes nothing is let go', async () => {
    const alone = await session(0);
    const watched = await session(PAGES);
    const { desk, open, stalled } = watched;
    expect(alone.journal.length).toBeGreaterThan(100_000);
    expect(watched.journal === alone.journal).toBe(true);
    expect(desk.context.watch.ended).toMatchObject({ outcome: 'released', exit: 0 });

    const { last } = desk.context.watch.events;
    const all = Array.from({ length: last }, (_, i) => i + 1);
    expect(open).toHaveLength(PAGES - 1);
    expect(open.filter((p) => p.status !== 200 || p.closed)).toEqual([]);
    for (const page of open) expect(page.ids).toEqual(all);
    expect(Math.min(...open.map((p) => p.states))).toBeGreaterThan(10);
    expect(watched.grownMb - alone.grownMb).toBeLessThan(30);

    // The one that took nothing: what the sockets hold fills up, and half a minute later it is let go.
    for (const page of open) page.close();
    while (desk.context.hub.count > 1) await breathe();
    const before = heapMb();
    const { real } = desk.driver;
    for (let i = 0; i < 6000 && desk.context.hub.count > 0; i++) {
      real.runUntil(real.nowMs() + 200);
      await breathe();
    }
    expect(desk.context.hub.count).toBe(0);
    expect(heapMb() - before).toBeLessThan(30);
    expect(desk.failures).toEqual([]);
    stalled?.destroy();
  });
});
