/**
 * Requests drawn at random: by the document of the interface, near it, and as bytes that are none. Whatever they are, the
 * server never fails by them, and nothing happens that the person behind them has no right to.
 */

import type { AddressInfo } from 'node:net';
import { connect } from 'node:net';
import fc from 'fast-check';
import type { Document } from './conformance.js';
import { Desk, HOST } from './desk.js';
import { effectsOf } from './effects.js';

type Schema = {
  readonly type?: string;
  readonly enum?: readonly unknown[];
  readonly const?: unknown;
  readonly anyOf?: readonly Schema[];
  readonly oneOf?: readonly Schema[];
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly required?: readonly string[];
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
};

const ODD = [
  null,
  true,
  '',
  0,
  -1,
  1e308,
  -0,
  0.1,
  'NaN',
  [],
  {},
  '__proto__',
  'stop',
  'x'.repeat(50),
  [[]],
  '\u0000',
];
const KEYS = ['__proto__', 'constructor', 'prototype', 'toString', 'by', 'role', 'order', '', 'measuredDead'];

/** What this schema takes; now and then something it does not. */
function body(schema: Schema): fc.Arbitrary<unknown> {
  const odd = fc.constantFrom<unknown>(...ODD);
  const mostly = (arbitrary: fc.Arbitrary<unknown>): fc.Arbitrary<unknown> =>
    fc.oneof({ arbitrary, weight: 12 }, { arbitrary: odd, weight: 1 });
  if (schema.const !== undefined) return mostly(fc.constant(schema.const));
  if (schema.enum !== undefined) return mostly(fc.constantFrom(...schema.enum));
  const some = schema.anyOf ?? schema.oneOf;
  if (some !== undefined) return fc.oneof(...some.map(body));
  if (schema.type === 'number' || schema.type === 'integer') {
    const { minimum = -10, maximum = 1e5, exclusiveMinimum = minimum } = schema;
    return mostly(fc.double({ min: exclusiveMinimum, max: maximum, noNaN: true }));
  }
  if (schema.type === 'boolean') return mostly(fc.boolean());
  if (schema.type === 'string')
    return mostly(fc.oneof(fc.constantFrom('Ada', 'Wim', 'Ola'), fc.string({ maxLength: 60 })));
  const { properties = {}, required = [] } = schema;
  const keys = Object.fromEntries(Object.entries(properties).map(([key, one]) => [key, body(one)]));
  const right = fc.record(keys, { requiredKeys: required.filter((k) => k in keys) });
  const extra = fc.tuple(right, fc.constantFrom(...KEYS), odd).map(([made, key, value]) => {
    const text = JSON.stringify(made);
    // By text: an object literal would take `__proto__` for its own prototype.
    return text === '{}'
      ? `{${JSON.stringify(key)}:${JSON.stringify(value)}}`
      : `${text.slice(0, -1)},${JSON.stringify(key)}:${JSON.stringify(value)}}`;
  });
  return fc.oneof({ arbitrary: right, weight: 8 }, { arbitrary: extra, weight: 1 });
}

export interface Drawn {
  readonly method: string;
  readonly url: string;
  readonly body: unknown;
  readonly who: number;
  readonly headers: Readonly<Record<string, string>>;
}

/** Where more can be done there is more to try. */
const weightOf = (path: string): number =>
  path === '/api/orders' ? 12 : path.startsWith('/api/bench') ? 2 : 1;

/** By the document: its routes with what they take, and things beside it. */
export function requests(document: Document): fc.Arbitrary<Drawn> {
  const routes = Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods)
      // A stream ends only with its socket, and has tests of its own.
      .filter(() => path !== '/api/stream')
      .map(([method, said]) => {
        const { requestBody } = said as { requestBody?: { content: Record<string, { schema: Schema }> } };
        const schema = requestBody?.content['application/json']?.schema;
        return { method: method.toUpperCase(), path, schema };
      }),
  );
  const strangeText = fc.oneof(fc.string({ maxLength: 40 }), fc.string({ unit: 'binary', maxLength: 20 }));
  const query = fc.oneof(
    { arbitrary: fc.constant(''), weight: 4 },
    { arbitrary: fc.integer({ min: -5, max: 1e6 }).map((n) => `?after=${n}`), weight: 2 },
    {
      arbitrary: strangeText.map((t) => `?from=${encodeURIComponent(t.replace(/[\ud800-\udfff]/g, ''))}`),
      weight: 1,
    },
  );
  const header = fc.constantFrom<Readonly<Record<string, string>>>(
    ...Array.from({ length: 16 }, () => ({})),
    { 'x-loopwarden': '' },
    { origin: 'http://evil.example' },
    { origin: `http://${HOST}` },
    { host: 'evil.example' },
    { 'content-type': 'text/plain' },
    { 'content-type': 'application/x-www-form-urlencoded' },
    { 'sec-fetch-site': 'cross-site' },
    { 'x-forwarded-for': '192.0.2.7' },
    { 'content-length': '7' },
    { accept: 'text/html' },
    { 'last-event-id': '-1' },
    { cookie: 'loopwarden-undefined=x; '.repeat(20) },
  );
  const one = fc
    .constantFrom(...routes.flatMap((r) => Array<typeof r>(weightOf(r.path)).fill(r)))
    .chain(({ method, path, schema }) =>
      fc.record({
        method: fc.oneof(
          { arbitrary: fc.constant(method), weight: 15 },
          { arbitrary: fc.constantFrom('PUT', 'HEAD', 'OPTIONS', 'DELETE', 'GET', 'POST'), weight: 1 },
        ),
        url: fc.tuple(fc.constant(path.replace('{file}', 'page.css')), query).map(([p, q]) => p + q),
        body: schema === undefined ? fc.constantFrom<unknown>(undefined, undefined, {}) : body(schema),
        who: fc.nat({ max: 5 }),
        headers: header,
      }),
    );
  const anywhere = fc.record({
    method: fc.constantFrom('GET', 'POST', 'PUT'),
    url: strangeText.map((t) => `/${encodeURI(t.replace(/[\ud800-\udfff]/g, ''))}`),
    body: fc.oneof(fc.json(), fc.string({ unit: 'binary', maxLength: 300 })),
    who: fc.nat({ max: 5 }),
    headers: fc.constant({ 'content-type': 'application/json' }),
  });
  return fc.oneof({ arbitrary: one, weight: 12 }, { arbitrary: anywhere, weight: 1 });
}

export interface Figures {
  requests: number;
  /** By status. */
  readonly statuses: Record<number, number>;
  /** Without right: nobody, a cookie nobody was given, or a status that says no, and something changed. */
  readonly wrong: string[];
  readonly failed: string[];
  effects: number;
}

/** A person each: nobody, a wrong cookie, a watcher, an operator without control, one with, an engineer. */
const ROLES = ['nobody', 'wrong', 'watcher', 'operator', 'operator in control', 'engineer'] as const;
/** What each may change besides looking; the rest is refused. */
const MAY: Readonly<Record<string, (r: Drawn, status: number) => boolean>> = {
  nobody: () => false,
  wrong: () => false,
  watcher: (r) =>
    (r.url.startsWith('/api/orders') && orderOf(r) === 'trip-now') || r.url.startsWith('/api/sign-out'),
  operator: (r) =>
    (r.url.startsWith('/api/orders') && orderOf(r) === 'trip-now') ||
    /^\/api\/(control|sign-out)/.test(r.url),
  'operator in control': (r) => /^\/api\/(orders|control|sign-out)/.test(r.url),
  engineer: (r) =>
    (r.url.startsWith('/api/orders') && orderOf(r) === 'trip-now') ||
    /^\/api\/(control|sign-out|invitations|bench\/)/.test(r.url),
};
const orderOf = (r: Drawn): unknown => (r.body as { order?: unknown } | null)?.order;

/** Desks after one another, because people sign out, sessions trip and time is to pass. */
export class Fuzz {
  readonly figures: Figures = { requests: 0, statuses: {}, wrong: [], failed: [], effects: 0 };
  #desk: Desk | null = null;
  #cookies: (string | undefined)[] = [];
  #left = 0;

  constructor(private readonly newFolder: () => string) {}

  async document(): Promise<Document> {
    return (await (await this.#fresh()).ask('GET', '/openapi.json')).json();
  }

  async #fresh(): Promise<Desk> {
    await this.#desk?.close();
    const desk = await Desk.open(this.newFolder());
    // Limits are another matter: here every request is to be looked at.
    this.#cookies = [
      undefined,
      'a-secret-of-a-test-999999',
      await desk.signIn('Wim', 'watcher'),
      await desk.signIn('Ola', 'operator'),
      await desk.inControl('Ada', 'operator'),
      await desk.signIn('Eva', 'engineer'),
    ];
    this.#desk = desk;
    this.#left = 200;
    return desk;
  }

  /** One request. */
  async ask(drawn: Drawn): Promise<void> {
    if (this.#left-- <= 0 || this.#desk === null) await this.#fresh();
    const desk = this.#desk as Desk;
    const { figures } = this;
    const cookie = this.#cookies[drawn.who];
    // Some in a session, some between; never so fast that a request could be taken for its effect.
    if (figures.requests % 16 === 0) await desk.driver.pump();
    const before = effectsOf(desk);
    const { body: sent } = drawn;
    const payload = typeof sent === 'string' || sent === undefined ? sent : JSON.stringify(sent);
    const isPost = drawn.method === 'POST';
    const type: Record<string, string> =
      payload === undefined || drawn.method === 'GET' ? {} : { 'content-type': 'application/json' };
    const answer = await desk.ask(drawn.method, drawn.url, {
      ...(cookie === undefined ? {} : { cookie }),
      ...(payload === undefined || drawn.method === 'GET' ? {} : { body: payload }),
      headers: { ...type, ...(isPost ? {} : { 'x-loopwarden': 'page' }), ...drawn.headers },
    });
    figures.requests++;
    const { statusCode } = answer;
    figures.statuses[statusCode] = (figures.statuses[statusCode] ?? 0) + 1;
    const said = JSON.stringify({ ...drawn, who: ROLES[drawn.who], statusCode });
    if (statusCode >= 500 || desk.failures.length > 0)
      figures.failed.push(`${said} ${desk.failures.join(' ')}`);
    if (effectsOf(desk) !== before) {
      figures.effects++;
      const may = isPost && statusCode < 300 && MAY[ROLES[drawn.who] as string]?.(drawn, statusCode) === true;
      if (!may) figures.wrong.push(said);
    } else if (isPost && statusCode >= 200 && statusCode < 300 && !/sign-in|control/.test(drawn.url))
      figures.wrong.push(`done, and nothing changed: ${said}`);
    if (desk.failures.length > 0) await this.#fresh();
    // Control is given away and people sign out: those who are to be here are made anew.
    const { control, people } = desk.context;
    if (!control.isHeldBy('Ada') || people.list.length !== 4) await this.#fresh();
  }

  /** Bytes on a socket; @returns what came back to each. */
  async bytes(all: readonly Buffer[]): Promise<void> {
    const desk = this.#desk ?? (await this.#fresh());
    if (!desk.app.server.listening) await desk.app.listen({ host: '127.0.0.1', port: 0 });
    const { port } = desk.app.server.address() as AddressInfo;
    const before = effectsOf(desk);
    for (const bytes of all) {
      const got = await say(port, bytes);
      this.figures.requests++;
      const status = Number(/^HTTP\/1\.1 (\d{3})/.exec(got)?.[1] ?? 0);
      this.figures.statuses[status] = (this.figures.statuses[status] ?? 0) + 1;
      if (status >= 500 || desk.failures.length > 0) this.figures.failed.push(bytes.toString('base64'));
    }
    if (effectsOf(desk) !== before)
      this.figures.wrong.push(`bytes: ${all.map((b) => b.toString('base64')).join(' ')}`);
  }

  async close(): Promise<void> {
    await this.#desk?.close();
  }
}

function say(port: number, bytes: Buffer): Promise<string> {
  return new Promise((resolve) => {
    let got = '';
    const socket = connect(port, '127.0.0.1', () => void socket.end(bytes));
    const done = (): void => {
      socket.destroy();
      resolve(got);
    };
    socket.on('data', (data) => {
      got += data.toString('latin1');
    });
    socket.on('close', done);
    socket.on('error', done);
    socket.setTimeout(1000, done);
  });
}

/** What looks like a request, and less and less so. */
export const wire = (port = 'localhost:80'): fc.Arbitrary<Buffer> => {
  const line = fc.constantFrom(
    ...[
      'GET /api/state HTTP/1.1',
      'POST /api/orders HTTP/1.1',
      'POST /api/sign-in HTTP/1.1',
      'GET / HTTP/1.1',
    ],
    ...[
      'GET /api/stream HTTP/1.1',
      'TRACE / HTTP/1.1',
      'OPTIONS * HTTP/1.1',
      'POST /api/bench/faults HTTP/1.0',
    ],
  );
  const header = fc.oneof(
    fc.constantFrom(
      `Host: ${port}`,
      'x-loopwarden: page',
      'Content-Length: 16',
      'Transfer-Encoding: chunked',
    ),
    fc.constantFrom(
      'Connection: close',
      'Expect: 100-continue',
      'Upgrade: h2c',
      'Content-Type: application/json',
    ),
    fc.tuple(fc.string({ maxLength: 12 }), fc.string({ maxLength: 40 })).map(([k, v]) => `${k}: ${v}`),
  );
  const request = fc
    .tuple(
      line,
      fc.array(header, { maxLength: 6 }),
      fc.constantFrom('', '{"order":"stop"}', '{"order":"trip-now"}', '5\r\nabcde\r\n0\r\n\r\n'),
    )
    .map(([first, headers, tail]) => Buffer.from(`${[first, ...headers, '', tail].join('\r\n')}`, 'latin1'));
  const damaged = fc
    .tuple(
      request,
      fc.array(fc.tuple(fc.nat({ max: 400 }), fc.nat({ max: 255 })), { minLength: 1, maxLength: 8 }),
    )
    .map(([whole, changes]) => {
      const bytes = Buffer.from(whole);
      for (const [at, value] of changes) bytes[at % bytes.length] = value;
      return bytes;
    });
  const noise = fc.uint8Array({ minLength: 1, maxLength: 300 }).map((a) => Buffer.from(a));
  return fc.oneof(request, { arbitrary: damaged, weight: 3 }, noise);
};
