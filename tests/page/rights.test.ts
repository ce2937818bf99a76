/**
 * Who may do what, as one table that is asked of the server cell by cell: the status, and that a request which is not
 * permitted changes nothing, and one that is permitted changes something.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { SIGNED_IN_MS } from '../../src/page/people.js';
import { loadRig } from '../../src/rig/load.js';
import { Conformance } from './conformance.js';
import { Desk } from './desk.js';
import { effectsOf } from './effects.js';

const WHO = [
  'nobody',
  'wrong',
  'expired',
  'watcher',
  'operator',
  'operator*',
  'engineer',
  'engineer*',
] as const;
type Who = (typeof WHO)[number];
/** Between sessions; while one runs; while one runs that has tripped. */
type When = 'parked' | 'running' | 'tripped';
interface Row {
  readonly when: When;
  readonly what: string;
  readonly body?: object;
  /** From another machine. */
  readonly remote?: boolean;
  /** One status for each of WHO. */
  readonly status: readonly number[];
}

const row = (when: When, what: string, status: string, body?: object, remote = false): Row => ({
  ...{ when, what, remote, status: status.trim().split(/\s+/).map(Number) },
  ...(body === undefined ? {} : { body }),
});
const order = (when: When, name: string, status: string, more = {}, remote = false): Row =>
  row(when, 'POST /api/orders', status, { order: name, ...more }, remote);
const START = { wish: { targetEnergyKwh: 5 } };

// `*`: in control.                          nobody wrong expired watcher operator operator* engineer engineer*
const TABLE: readonly Row[] = [
  row('parked', 'GET /', '                   200 200 200 200 200 200 200 200'),
  row('parked', 'GET /page/none.js', '       404 404 404 404 404 404 404 404'),
  row('parked', 'GET /healthz', '            200 200 200 200 200 200 200 200'),
  row('parked', 'GET /metrics', '            200 200 200 200 200 200 200 200'),
  row('parked', 'GET /metrics', '            401 401 401 200 200 200 200 200', undefined, true),
  row('parked', 'GET /openapi.json', '       200 200 200 200 200 200 200 200'),
  row('parked', 'GET /openapi.json', '       401 401 401 200 200 200 200 200', undefined, true),
  row('parked', 'GET /api/about', '          401 401 401 200 200 200 200 200'),
  row('running', 'GET /api/state', '         401 401 401 200 200 200 200 200'),
  row('running', 'GET /api/events', '        401 401 401 200 200 200 200 200'),
  row('running', 'GET /api/traces', '        401 401 401 200 200 200 200 200'),
  row('running', 'GET /api/pilot', '         401 401 401 200 200 200 200 200'),
  row('parked', 'GET /api/me', '             401 401 401 200 200 200 200 200'),
  row('parked', 'POST /api/sign-in', '       403 403 403 403 403 403 403 403', {
    ...{ invitation: 'not-a-real-invitation-at-all', name: 'Zoe' },
  }),
  row('running', 'POST /api/sign-out', '     401 401 401 200 200 200 200 200', {}),
  row('parked', 'POST /api/invitations', '   401 401 401 403 403 403 200 200', { role: 'engineer' }),
  row('parked', 'POST /api/control', '       401 401 401 403 409 200 409 200', { do: 'take' }),
  row('parked', 'POST /api/control', '       401 401 401 403 409 200 409 200', { do: 'release' }),
  row('parked', 'POST /api/control', '       401 401 401 403 409 200 409 200', { do: 'offer', to: 'spare' }),
  row('parked', 'POST /api/control', '       401 401 401 403 409 409 409 409', { do: 'accept' }),
  order('parked', 'start', '                 401 401 401 403 403 202 403 202', START),
  order('parked', 'acknowledge', '           401 401 401 403 403 202 403 202'),
  order('parked', 'acknowledge', '           401 401 401 403 403 403 403 403', {}, true),
  order('parked', 'acknowledge', '           401 401 401 403 403 403 403 403', { measuredDead: true }, true),
  order('parked', 'free-plug', '             401 401 401 403 403 202 403 202'),
  order('parked', 'stop', '                  401 401 401 403 403 409 403 409'),
  order('parked', 'limit-current', '         401 401 401 403 403 409 403 409', { currentA: 50 }),
  order('parked', 'sample-pilot', '          401 401 401 403 403 409 403 409'),
  order('parked', 'trip-now', '              401 401 401 409 409 409 409 409'),
  order('running', 'start', '                401 401 401 403 403 202 403 202', START),
  order('running', 'acknowledge', '          401 401 401 403 403 202 403 202'),
  order('running', 'acknowledge', '          401 401 401 403 403 403 403 403', {}, true),
  order('running', 'free-plug', '            401 401 401 403 403 202 403 202'),
  order('running', 'stop', '                 401 401 401 403 403 202 403 202'),
  order('running', 'limit-current', '        401 401 401 403 403 202 403 202', { currentA: 50 }),
  order('running', 'sample-pilot', '         401 401 401 403 403 202 403 202'),
  order('running', 'trip-now', '             401 401 401 202 202 202 202 202'),
  order('running', 'trip-now', '             401 401 401 202 202 202 202 202', {}, true),
  order('tripped', 'trip-now', '             401 401 401 409 409 409 409 409'),
  order('tripped', 'start', '                401 401 401 403 403 202 403 202', START),
  row('parked', 'POST /api/bench/faults', '  401 401 401 403 403 403 200 200', { fault: 'loop-crush' }),
  row('running', 'POST /api/bench/faults', ' 401 401 401 403 403 403 200 200', { fault: 'loop-crush' }),
  row('running', 'POST /api/bench/faults', ' 401 401 401 403 403 403 409 409', { fault: 'no-such-fault' }),
  row('parked', 'POST /api/bench/clear', '   401 401 401 403 403 403 200 200', {}),
  row('parked', 'POST /api/bench/renew', '   401 401 401 403 403 403 200 200', {}),
  row('running', 'POST /api/bench/renew', '  401 401 401 403 403 403 409 409', {}),
  row('running', 'POST /api/bench/speed', '  401 401 401 403 403 403 200 200', { speed: 20 }),
  row('parked', 'POST /api/bench/exercise', '401 401 401 403 403 403 200 200', { exercise: 'clean-session' }),
  row('parked', 'POST /api/bench/exercise', '401 401 401 403 403 403 409 409', { exercise: 'x' }),
  row('running', 'POST /api/bench/exercise', '401 401 401 403 403 403 409 409', {
    exercise: 'clean-session',
  }),
  row('parked', 'POST /api/bench/debrief', ' 401 401 401 403 403 403 200 200', {}),
];
/** Permitted, and still nothing that could be seen: what is held already is taken again. */
const NOTHING_NEW = new Set(['{"do":"take"}']);

let state: string;
const desks: Desk[] = [];
afterAll(async () => {
  for (const desk of desks) await desk.close();
  rmSync(state, { recursive: true, force: true });
});

interface Scene {
  readonly desk: Desk;
  readonly cookies: Readonly<Record<Who, string | undefined>>;
}

async function scene(when: When, who: Who): Promise<Scene> {
  state ??= mkdtempSync(path.join(tmpdir(), 'loopwarden-rights-'));
  const folder = mkdtempSync(path.join(state, 'desk-'));
  const desk = await Desk.open(folder);
  desks.push(desk);
  const expired = await desk.signIn('expired', 'engineer');
  desk.wallOffsetMs = SIGNED_IN_MS;
  const cookies: Record<Who, string | undefined> = {
    ...{ nobody: undefined, wrong: 'a-secret-of-a-test-999999', expired },
    watcher: await desk.signIn('watcher', 'watcher'),
    operator: await desk.signIn('operator', 'operator'),
    'operator*': await desk.signIn('operator in control', 'operator'),
    engineer: await desk.signIn('engineer', 'engineer'),
    'engineer*': await desk.signIn('engineer in control', 'engineer'),
  };
  await desk.signIn('spare', 'operator');
  const holder = cookies[who === 'engineer*' ? 'engineer*' : 'operator*'];
  expect((await desk.post('/api/control', holder, { do: 'take' })).statusCode).toBe(200);
  if (when !== 'parked') {
    const started = await desk.post('/api/orders', holder, { order: 'start', ...START });
    expect(started.statusCode).toBe(202);
    await desk.until((phase) => phase !== 'parked');
  }
  if (when === 'tripped') {
    await desk.post('/api/orders', holder, { order: 'trip-now' });
    expect(desk.bench.session?.tripped).toBe(true);
  }
  return { desk, cookies };
}

const ask = ({ desk, cookies }: Scene, { what, body, remote }: Row, who: Who) => {
  const [method = '', url = ''] = what.split(' ');
  const cookie = cookies[who];
  return desk.ask(method, url, {
    ...(cookie === undefined ? {} : { cookie }),
    ...(body === undefined ? {} : { body }),
    headers: remote ? { 'x-forwarded-for': '192.0.2.7' } : {},
  });
};

describe('rights', () => {
  /** What must change nothing shares a scene; what may change something has one of its own. */
  const shared = new Map<string, Promise<Scene>>();
  const told: string[] = [];
  let conformance: Conformance | null = null;

  it.each(
    TABLE.map((r) => [r.when, r.what, r.remote ? 'remote' : '', JSON.stringify(r.body ?? ''), r] as const),
  )('%s: %s %s %s', async (when, what, remote, body, asked) => {
    const statuses: number[] = [];
    const changes: string[] = [];
    expect(asked.status).toHaveLength(WHO.length);
    for (const [i, who] of WHO.entries()) {
      const expected = asked.status[i] as number;
      const mayChange = what.startsWith('POST') && expected < 300;
      const key = `${when} ${who === 'engineer*'}`;
      if (!mayChange && !shared.has(key)) shared.set(key, scene(when, who));
      const at = await (mayChange ? scene(when, who) : (shared.get(key) as Promise<Scene>));
      conformance ??= new Conformance((await at.desk.ask('GET', '/openapi.json')).json());
      const before = effectsOf(at.desk);
      const answer = await ask(at, asked, who);
      const changed = effectsOf(at.desk) !== before;
      statuses.push(answer.statusCode);
      changes.push(changed ? '!' : ' ');
      conformance.check(what.split(' ')[0] as string, what.split(' ')[1] as string, answer);
      if (!NOTHING_NEW.has(body))
        expect([who, 'changes something', changed]).toEqual([who, 'changes something', mayChange]);
      if (expected >= 400) expect(answer.json()).toHaveProperty('problem');
      expect(at.desk.failures).toEqual([]);
    }
    expect(Object.fromEntries(WHO.map((who, i) => [who, statuses[i]]))).toEqual(
      Object.fromEntries(WHO.map((who, i) => [who, asked.status[i]])),
    );
    const shown = `${when.padEnd(8)}${remote.padEnd(7)}${`${what} ${body === '""' ? '' : body}`.slice(0, 62).padEnd(63)}`;
    told.push(shown + statuses.map((s, i) => `${s}${changes[i]}`.padEnd(10)).join(''));
  });

  it('let a trip be acknowledged from another machine only where the rig says so', async () => {
    const from = (acknowledge: 'charger' | 'page') => async (remote: boolean) => {
      const loaded = loadRig('depot-cable');
      const rig = { ...loaded.rig, acknowledge: { from: acknowledge } };
      const desk = await Desk.open(mkdtempSync(path.join(state, 'desk-')), {
        bench: { loaded: { ...loaded, rig: rig as typeof loaded.rig } },
      });
      desks.push(desk);
      const cookie = await desk.inControl();
      const headers: Record<string, string> = remote ? { via: '1.1 somewhere' } : {};
      const answer = await desk.ask('POST', '/api/orders', {
        cookie,
        headers,
        body: { order: 'acknowledge' },
      });
      return answer.statusCode;
    };
    expect([await from('charger')(false), await from('charger')(true)]).toEqual([202, 403]);
    expect([await from('page')(false), await from('page')(true)]).toEqual([202, 202]);
  });

  it('were asked for of every route', async () => {
    const document = (await (await scene('parked', 'nobody')).desk.ask('GET', '/openapi.json')).json();
    const asked = new Set(TABLE.map((r) => r.what));
    const routes = Object.entries(document.paths as Record<string, object>).flatMap(([url, methods]) =>
      Object.keys(methods).map((method) => `${method.toUpperCase()} ${url}`),
    );
    // The stream is asked for over a socket (page-sockets.test.ts), where it can be ended.
    expect(routes.filter((r) => !asked.has(r)).sort()).toEqual(['GET /api/stream', 'GET /page/{file}']);
    const head = `${' '.repeat(78)}${WHO.map((w) => w.padEnd(10)).join('')}`;
    console.info([`  *: in control   !: something changed`, head, ...told].join('\n'));
  });
});
