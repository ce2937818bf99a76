/** Requests nobody of ours would send: each is turned away with 4xx, in words, and changes nothing. */
import { mkdtempSync, rmSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Desk, HOST, OURS } from './desk.js';
import { effectsOf } from './effects.js';

let state: string;
let desk: Desk;
let token: string;
let port: number;
beforeAll(async () => {
  state = mkdtempSync(path.join(tmpdir(), 'loopwarden-hostile-'));
  desk = await Desk.open(state);
  token = await desk.inControl();
  await desk.post('/api/orders', token, { order: 'start', wish: { targetEnergyKwh: 5 } });
  await desk.until((phase) => phase !== 'parked');
  await desk.app.listen({ host: '127.0.0.1', port: 0 });
  port = (desk.app.server.address() as AddressInfo).port;
});
afterAll(async () => {
  await desk.close();
  rmSync(state, { recursive: true, force: true });
});

const STOP = { order: 'stop' };
const JSON_TYPE = { 'content-type': 'application/json' };
const ORDER = '/api/orders';

/** Status of what was refused; fails where anything changed or the server itself failed. */
async function refused(method: string, url: string, more: Parameters<Desk['ask']>[2] = {}): Promise<number> {
  const before = effectsOf(desk);
  const answer = await desk.ask(method, url, { cookie: token, ...more });
  expect(effectsOf(desk)).toBe(before);
  expect(desk.failures).toEqual([]);
  expect(answer.body.length).toBeLessThan(2000);
  expect(answer.body).not.toMatch(/node_modules|\.ts:\d|at async/);
  return answer.statusCode;
}

describe('an order by a person in control is refused', () => {
  it.each<[string, Record<string, string>, number]>([
    ['from another origin', { origin: 'http://evil.example' }, 403],
    ['from an origin that begins like ours', { origin: `http://${HOST}.evil.example` }, 403],
    ['from a sandboxed document', { origin: 'null' }, 403],
    ['under a rebound name', { host: 'evil.example:0' }, 403],
    ['under our name at another port', { host: 'localhost:1' }, 403],
    ['as another site asks', { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'cors' }, 403],
    [
      'as another port of this machine asks',
      { 'sec-fetch-site': 'same-site', 'sec-fetch-mode': 'cors' },
      403,
    ],
    [
      'as a form of another site',
      { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate', 'x-loopwarden': '' },
      403,
    ],
    ['without our header', { 'x-loopwarden': '' }, 403],
  ])('%s', async (_, headers, status) => {
    expect(await refused('POST', ORDER, { body: STOP, headers })).toBe(status);
  });
  it.each([
    'application/x-www-form-urlencoded',
    'multipart/form-data; boundary=x',
    'text/plain',
    'text/plain;charset=UTF-8',
    'application/xml',
    'application/jsonx',
    'application/json\u00e9',
    '',
  ])('as %j', async (type) => {
    const body = JSON.stringify(STOP);
    const status = await refused('POST', ORDER, { body, headers: { 'content-type': type } });
    expect([400, 415]).toContain(status);
  });
  it.each<[string, string]>([
    ['nothing', ''],
    ['half of it', '{"order":"st'],
    ['no object', '"stop"'],
    ['null', 'null'],
    ['a list', '[{"order":"stop"}]'],
    ['two of them', '{"order":"stop"}{"order":"stop"}'],
    ['another order', '{"order":"close-p"}'],
    ['an order in capitals', '{"order":"STOP"}'],
    ['an order as a list', '{"order":["stop"]}'],
    ['one thing too much', '{"order":"stop","by":"Somebody else"}'],
    ['a prototype', '{"order":"stop","__proto__":{"role":"engineer"}}'],
    ['a constructor', '{"order":"stop","constructor":{"prototype":{"x":1}}}'],
    ['a current below zero', '{"order":"limit-current","currentA":-1}'],
    ['a current as text', '{"order":"limit-current","currentA":"50"}'],
    ['no current', '{"order":"limit-current"}'],
    ['a current beyond any number', '{"order":"limit-current","currentA":1e999}'],
    ['a wish beyond full', '{"order":"start","wish":{"targetSoc":1.01}}'],
    ['a wish nobody knows', '{"order":"start","wish":{"currentA":1}}'],
    ['a word that is not given as one', '{"order":"acknowledge","measuredDead":"true"}'],
    ['too much', `{"order":"stop","x":"${'x'.repeat(17_000)}"}`],
    ['too deep', `${'['.repeat(5000)}${']'.repeat(5000)}`],
    ['no text', Buffer.from([0x7b, 0xff, 0xfe, 0x00, 0x7d]).toString('latin1')],
  ])('with %s in it', async (_, body) => {
    const status = await refused('POST', ORDER, { body, headers: JSON_TYPE });
    expect(status).toBe(body.length > 16_384 ? 413 : 400);
    expect(({} as { role?: string }).role).toBeUndefined();
  });
  it.each(['HEAD', 'OPTIONS', 'TRACE', 'PUT', 'DELETE', 'PATCH', 'GET'])('as %s', async (method) => {
    const body = ['PUT', 'DELETE', 'PATCH'].includes(method) ? { body: STOP } : {};
    expect(await refused(method, ORDER, { ...body, headers: OURS })).toBe(404);
  });
});

describe('a path that is none is not found', () => {
  it.each([
    ...['/page/..%2fapi%2forders', '/page/%2e%2e%2f%2e%2e%2fetc%2fpasswd'],
    ...['/page/', '/page', '/page/a/b', '/page/%00', '/page/constructor', '/page/__proto__', '//api/orders'],
    ...[
      '/API/orders',
      '/api/orders/',
      '/api//orders',
      '/api/orders;a=b',
      '/api/orders%20',
      '/api/%6frders/x',
    ],
    ...[
      '/%',
      '/%zz',
      '/page/%E0%A4%A',
      `/page/${'x'.repeat(5000)}`,
      '/.env',
      '/api',
      '/api/bench',
      '/\\..\\api',
    ],
  ])('%s', async (url) => {
    for (const method of ['GET', 'POST']) {
      const body = method === 'POST' ? { body: STOP } : {};
      const status = await refused(method, url, body);
      expect([400, 404, 414]).toContain(status);
    }
  });
  it.each([
    '/api/events?after=-1',
    '/api/events?after=1.5',
    '/api/events?after=NaN',
    '/api/events?after=1e400',
    '/api/events?after=1&after=2',
    '/api/events?after[]=1',
    '/api/events?x=1',
    '/api/events?__proto__[a]=1',
    '/api/traces?from=9007199254740993',
    '/api/stream?after=x',
  ])('%s asks for what cannot be', async (url) => {
    expect(await refused('GET', url)).toBe(400);
  });
  it('a stream is refused to whoever takes none', async () => {
    expect(await refused('GET', '/api/stream', { headers: { accept: 'application/json' } })).toBe(406);
  });
});

describe('signing in', () => {
  it('gives a cookie no script can read and no other site can send', async () => {
    const invited = desk.context.people.invite('operator');
    const body = { invitation: invited?.invitation, name: 'Ben' };
    const answer = await desk.post('/api/sign-in', undefined, body);
    const set = String(answer.headers['set-cookie']);
    expect(set).toMatch(/^loopwarden-[a-z0-9]+=[\w-]{20,}; /);
    for (const flag of [/HttpOnly/, /SameSite=Strict/, /Path=\//, /Max-Age=43200/]) expect(set).toMatch(flag);
    expect(set).not.toMatch(/Domain|Secure/);
    expect(answer.body).not.toContain(answer.cookies[0]?.value as string);
    // Used up, and by another name too.
    const before = effectsOf(desk);
    for (const name of ['Ben', 'Cem'])
      expect((await desk.post('/api/sign-in', undefined, { ...body, name })).statusCode).toBe(403);
    expect(effectsOf(desk)).toBe(before);
  });
  it('by the name of somebody who was here a moment ago is refused, later it replaces', async () => {
    const first = await desk.signIn('Cem', 'operator');
    const invited = desk.context.people.invite('watcher')?.invitation;
    const body = { invitation: invited, name: 'cem' };
    const before = effectsOf(desk);
    expect((await desk.post('/api/sign-in', undefined, body)).statusCode).toBe(409);
    expect(effectsOf(desk)).toBe(before);
    desk.bench.speed = 1;
    for (let i = 0; i < 30_000 / 15; i++) desk.driver.real.runUntil(desk.driver.real.nowMs() + 15);
    expect((await desk.post('/api/sign-in', undefined, body)).statusCode).toBe(200);
    expect((await desk.ask('GET', '/api/me', { cookie: first })).statusCode).toBe(401);
  });
  it('ends with signing out: the cookie is cleared and worth nothing', async () => {
    const cookie = await desk.signIn('Dov', 'operator');
    const out = await desk.post('/api/sign-out', cookie, {});
    expect(out.statusCode).toBe(200);
    expect(String(out.headers['set-cookie'])).toMatch(/=; .*(Max-Age=0|Expires=Thu, 01 Jan 1970)/);
    expect(await refused('GET', '/api/me', { cookie })).toBe(401);
    expect(await refused('POST', ORDER, { cookie, body: { order: 'trip-now' } })).toBe(401);
  });
  it('as another person in the same browser ends the first: control goes back to everybody', async () => {
    const other = await Desk.open(path.join(state, 'other'));
    const first = await other.inControl('Eva');
    const invited = other.context.people.invite('watcher')?.invitation;
    const body = { invitation: invited, name: 'Wim' };
    // In vain, and nothing is lost.
    const wrong = { ...body, invitation: 'no-invitation-at-all-of-ours' };
    expect((await other.post('/api/sign-in', first, wrong)).statusCode).toBe(403);
    expect(other.context.control.holder).toBe('Eva');
    expect((await other.post('/api/sign-in', first, body)).statusCode).toBe(200);
    expect((await other.ask('GET', '/api/me', { cookie: first })).statusCode).toBe(401);
    expect([other.context.control.holder, other.context.people.list.map((p) => p.name)]).toEqual([
      null,
      ['Wim'],
    ]);
    await other.close();
  });
  it('by a cookie of another server of this machine is none', async () => {
    const other = await desk.ask('GET', '/api/me', { headers: { cookie: `loopwarden-8750=${token}` } });
    expect(other.statusCode).toBe(401);
  });
  it('shows nothing to be embedded, sniffed or run from elsewhere', async () => {
    const { headers } = await desk.ask('GET', '/');
    expect(headers).toMatchObject({
      'content-security-policy': expect.stringMatching(/default-src 'none'.*frame-ancestors 'none'/),
      ...{ 'x-content-type-options': 'nosniff', 'cross-origin-resource-policy': 'same-origin' },
    });
    expect(String(headers['content-security-policy'])).not.toMatch(/unsafe|http:|\*/);
    const me = await desk.ask('GET', '/api/me', { cookie: token });
    expect(me.headers['access-control-allow-origin']).toBeUndefined();
  });
});

describe('over a socket', () => {
  /** What comes back to these bytes, until the other side closes or has said it. */
  const say = (bytes: string | Buffer, waitMs = 400): Promise<string> =>
    new Promise((resolve) => {
      let got = '';
      const socket = connect(port, '127.0.0.1', () => void socket.write(bytes));
      const done = (): void => {
        socket.destroy();
        resolve(got);
      };
      socket.on('data', (data) => {
        got += data.toString('latin1');
        const [top = '', body] = got.split('\r\n\r\n');
        const length = Number(/content-length: (\d+)/i.exec(top)?.[1] ?? Number.NaN);
        if (body !== undefined && body.length >= length) done();
      });
      socket.on('close', done);
      socket.on('error', done);
      setTimeout(done, waitMs);
    });
  const head = (lines: readonly string[], body = ''): string => `${[...lines, '', body].join('\r\n')}`;
  const ours = () => [`Host: localhost:${port}`, 'x-loopwarden: page', `Cookie: loopwarden-${port}=${token}`];
  it.each<[string, () => string | Buffer]>([
    ['no host', () => head(['GET /api/me HTTP/1.1'])],
    ['two hosts', () => head(['GET /api/me HTTP/1.1', `Host: localhost:${port}`, 'Host: evil.example'])],
    ['a whole address of somewhere else', () => head(['GET http://evil.example/api/me HTTP/1.1', ...ours()])],
    ['a way up, and down again', () => head(['GET /page/../api/me HTTP/1.1', ...ours()])],
    ['a way up in disguise', () => head(['GET /page/%2e%2e/api/me HTTP/1.1', ...ours()])],
    ['a file by a way up', () => head(['GET /page/../../package.json HTTP/1.1', ...ours()])],
    ['headers without end', () => head(['GET /api/me HTTP/1.1', ...ours(), `x: ${'y'.repeat(70_000)}`])],
    ['very many headers', () => head(['GET /api/me HTTP/1.1', `Host: evil`, ...Array(1500).fill('x: y')])],
    [
      'two lengths',
      () => head(['POST /api/orders HTTP/1.1', ...ours(), 'Content-Length: 2', 'Content-Length: 3'], '{}'),
    ],
    [
      'length and chunks',
      () =>
        head(
          ['POST /api/orders HTTP/1.1', ...ours(), 'Content-Length: 5', 'Transfer-Encoding: chunked'],
          '0\r\n\r\n',
        ),
    ],
    [
      'chunks that are none',
      () =>
        head(
          [
            'POST /api/orders HTTP/1.1',
            ...ours(),
            'Transfer-Encoding: chunked',
            'Content-Type: application/json',
          ],
          'zz\r\n',
        ),
    ],
    ['a length below zero', () => head(['POST /api/orders HTTP/1.1', ...ours(), 'Content-Length: -1'])],
    ['a line that is none', () => 'GET\r\n\r\n'],
    ['a method that is none', () => head(['ORDER /api/orders HTTP/1.1', ...ours()])],
    ['a tunnel', () => head(['CONNECT evil.example:1 HTTP/1.1', ...ours()])],
    ['TLS', () => Buffer.from('16030100c8010000c40303', 'hex')],
    ['noise', () => Buffer.from(Array.from({ length: 900 }, (_, i) => (i * 37) % 256))],
    ['another protocol', () => 'PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n'],
    ['an old protocol', () => head(['GET /api/me HTTP/0.9'])],
    [
      'an expectation nobody meets',
      () => head(['POST /api/orders HTTP/1.1', ...ours(), 'Expect: x', 'Content-Length: 0']),
    ],
  ])('%s is answered with 4xx or by hanging up, and changes nothing', async (_, bytes) => {
    const before = effectsOf(desk);
    const got = await say(bytes());
    // A tunnel, an upgrade and noise are hung up on.
    if (got !== '') expect(got).toMatch(/^HTTP\/1\.1 4\d\d /);
    expect(effectsOf(desk)).toBe(before);
    expect(desk.failures).toEqual([]);
  });
  it('a body announced and never sent holds up nobody', async () => {
    const open = head(
      ['POST /api/orders HTTP/1.1', ...ours(), 'Content-Type: application/json', 'Content-Length: 10'],
      '{',
    );
    const waiting = Array.from({ length: 20 }, () => say(open, 300));
    const answer = await fetch(`http://localhost:${port}/healthz`);
    expect(answer.status).toBe(200);
    await Promise.all(waiting);
  });
  it('an upgrade is not followed', async () => {
    const got = await say(
      head(['GET /api/me HTTP/1.1', `Host: localhost:${port}`, 'Connection: Upgrade', 'Upgrade: websocket']),
    );
    expect(got).not.toMatch(/^HTTP\/1\.1 101/);
  });
});
