/**
 * The page may fail; a session may not. Whatever throws inside it, in a listener, a round, a look or a note of an order,
 * reaches neither the supervisor nor the process, and orders are passed on all the same.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Desk, type DeskOptions } from './desk.js';

let state: string;
const desks: Desk[] = [];
beforeEach(() => {
  state = mkdtempSync(path.join(tmpdir(), 'loopwarden-failing-'));
});
afterEach(async () => {
  for (const desk of desks.splice(0)) await desk.close();
  rmSync(state, { recursive: true, force: true });
});
const open = async (options?: DeskOptions): Promise<Desk> => {
  const desk = await Desk.open(state, options);
  desks.push(desk);
  return desk;
};
const fail = (): never => {
  throw new Error('made to fail by a test');
};
const start = { order: 'start', wish: { targetEnergyKwh: 0.05 } };

/** Makes one thing of the page throw, every time. */
const WAYS: readonly [string, (desk: Desk) => void][] = [
  ['the book of events', (d) => Object.assign(d.context.watch.events, { add: fail })],
  ['the traces', (d) => Object.assign(d.context.watch.traces, { add: fail, from: fail })],
  ['the number of a limit', (d) => Object.assign(d.context.watch.traces, { bindingOf: fail })],
  ['the burst of the pilot', (d) => Object.assign(d.context.watch.pilot, { take: fail })],
  ['what was made', (d) => Object.assign(d.context.watch, { made: { add: fail, has: fail } })],
  ['who is signed in, for every look', (d) => Object.defineProperty(d.context.people, 'list', { get: fail })],
  ['the time on the wall', (d) => Object.defineProperty(d, 'wallOffsetMs', { get: fail })],
];

describe('a session goes on to its release while what fails is', () => {
  it.each(WAYS)('%s', async (_, breakIt) => {
    const desk = await open();
    const token = await desk.inControl();
    const page = { sent: 0, send: async () => void page.sent++, end: () => {} };
    desk.context.hub.join('Ada', page, 0);
    expect((await desk.post('/api/orders', token, start)).statusCode).toBe(202);
    breakIt(desk);
    // It throws from inside the step; the supervisor would call that a failure of its own and trip.
    desk.bench.person({ order: 'sample-pilot', by: 'Ada' });
    const ends: string[] = [];
    desk.driver.watch({ ended: (outcome, exit) => void ends.push(`${outcome.outcome} ${exit}`) });
    await desk.driver.until(() => desk.bench.running === null, 300);
    expect(ends).toEqual(['released 0']);
    expect(desk.failures.length).toBeGreaterThan(0);
  });
});

describe('an order is passed on', () => {
  it.each(['trip-now', 'stop'])('%s, while nothing of it can be noted', async (order) => {
    const desk = await open();
    const token = await desk.inControl();
    Object.assign(desk.context.watch.events, { add: fail });
    expect((await desk.post('/api/orders', token, start)).statusCode).toBe(202);
    await desk.until((phase) => phase !== 'parked');
    expect((await desk.post('/api/orders', token, { order })).statusCode).toBe(202);
    await desk.driver.until(() => desk.bench.running === null, 300);
    expect(desk.bench.session?.tripped).toBe(order === 'trip-now');
    expect(desk.bench.latch.trip?.code ?? null).toBe(order === 'trip-now' ? 'trip-now' : null);
  });
  it('or told as not: one that nobody takes any more is no "taken"', async () => {
    const desk = await open();
    const token = await desk.inControl();
    await desk.post('/api/orders', token, start);
    Object.assign(desk.bench, { person: () => false });
    const answer = await desk.post('/api/orders', token, { order: 'trip-now' });
    expect([answer.statusCode, answer.json().problem]).toEqual([409, 'the session is being closed']);
  });
  it.each([
    ['InputError', 409],
    ['Error', 500],
  ])(
    'or, where it cannot begin by an %s, is told with %d and leaves nothing under way',
    async (kind, status) => {
      const desk = await open();
      const token = await desk.inControl();
      const { InputError } = await import('../../src/host/input-error.js');
      Object.assign(desk.bench, {
        begin: () =>
          Promise.reject(kind === 'Error' ? new Error('a secret path') : new InputError('no such port')),
      });
      const answer = await desk.post('/api/orders', token, start);
      expect(answer.statusCode).toBe(status);
      expect(answer.body).not.toMatch(/a secret path|\.ts/);
      expect(desk.bench.running).toBeNull();
      expect((await desk.ask('GET', '/healthz')).statusCode).toBe(200);
    },
  );
});

describe('limits of requests', () => {
  const many = async (
    desk: Desk,
    token: string,
    n: number,
    body: object,
  ): Promise<Record<number, number>> => {
    const counted: Record<number, number> = {};
    for (let i = 0; i < n; i++) {
      const { statusCode } = await desk.post('/api/orders', token, body);
      counted[statusCode] = (counted[statusCode] ?? 0) + 1;
    }
    return counted;
  };
  it('never keep anybody from tripping what is under way', async () => {
    const desk = await open();
    const [ada, wim] = [await desk.inControl(), await desk.signIn('Wim', 'watcher')];
    await desk.post('/api/orders', ada, start);
    await desk.until((phase) => phase !== 'parked');
    // The first of the 240 was the start.
    expect(await many(desk, ada, 300, { order: 'limit-current', currentA: 5 })).toEqual({
      202: 239,
      429: 61,
    });
    expect(await many(desk, wim, 300, { order: 'stop' })).toEqual({ 403: 240, 429: 60 });
    expect(desk.bench.session?.tripped).toBe(false);
    expect((await desk.post('/api/orders', wim, { order: 'trip-now' })).statusCode).toBe(202);
    expect(desk.bench.session?.tripped).toBe(true);
    // Then there is nothing left to trip, and it counts as any other.
    expect(await many(desk, wim, 3, { order: 'trip-now' })).toEqual({ 429: 3 });
  });
  it('hold with nothing under way, for trip now as for the rest', async () => {
    const desk = await open();
    const wim = await desk.signIn('Wim', 'watcher');
    expect(await many(desk, wim, 260, { order: 'trip-now' })).toEqual({ 409: 240, 429: 20 });
  });
  it('hold for guesses of an invitation, and let in who has one a minute later', async () => {
    const desk = await open();
    const statuses: number[] = [];
    for (let i = 0; i < 40; i++) {
      const body = { invitation: `a-guess-of-an-invitation-${i}`, name: 'Ada' };
      statuses.push((await desk.post('/api/sign-in', undefined, body)).statusCode);
    }
    expect(statuses.filter((s) => s === 403)).toHaveLength(30);
    expect(statuses.filter((s) => s === 429)).toHaveLength(10);
    expect(desk.context.people.list).toEqual([]);
  });
  it('hold for looking, person by person', async () => {
    const desk = await open({ page: { requestsAMinute: 20 } });
    const [ada, ben] = [await desk.signIn('Ada', 'operator'), await desk.signIn('Ben', 'operator')];
    const look = async (cookie: string) => (await desk.ask('GET', '/api/state', { cookie })).statusCode;
    const statuses: number[] = [];
    for (let i = 0; i < 25; i++) statuses.push(await look(ada));
    expect(statuses.filter((s) => s === 200)).toHaveLength(20);
    expect(statuses.at(-1)).toBe(429);
    expect(await look(ben)).toBe(200);
  });
});
