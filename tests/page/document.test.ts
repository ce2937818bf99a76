/** The document of the interface: a valid one, and of exactly the routes that are served. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { Validator } from '@seriousme/openapi-schema-validator';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Conformance, type Document } from './conformance.js';
import { Desk } from './desk.js';

let state: string;
let desk: Desk;
let token: string;
let document: Document;
beforeAll(async () => {
  state = mkdtempSync(path.join(tmpdir(), 'loopwarden-document-'));
  desk = await Desk.open(state);
  token = await desk.inControl();
  document = (await desk.ask('GET', '/openapi.json')).json();
});
afterAll(async () => {
  await desk.close();
  rmSync(state, { recursive: true, force: true });
});

describe('the document', () => {
  it('is a valid one of OpenAPI 3.1', async () => {
    const { valid, errors } = await new Validator().validate(structuredClone(document) as never);
    expect([errors, valid]).toEqual([undefined, true]);
    expect(document.openapi).toBe('3.1.0');
  });
  it('has every route that is served, with its methods, and no other', () => {
    const served = desk.app
      .printRoutes({ commonPrefix: false })
      .split('\n')
      .reduce<{ at: string[]; found: string[] }>(
        ({ at, found }, line) => {
          const [, indent = '', text = '', methods] =
            /^([│├└─\s]*)(\S*)(?: \(([A-Z, ]+)\))?/.exec(line) ?? [];
          const depth = Math.floor(indent.length / 4);
          const parts = [...at.slice(0, depth - 1), text];
          if (methods !== undefined && text !== '*')
            for (const method of methods.split(', ')) found.push(`${method} ${parts.join('')}`);
          return { at: parts, found };
        },
        { at: [], found: [] },
      ).found;
    const documented = Object.entries(document.paths).flatMap(([url, methods]) =>
      Object.keys(methods).map((m) => `${m.toUpperCase()} ${url.replace(/\{(\w+)\}/g, ':$1')}`),
    );
    expect(served.length).toBeGreaterThan(15);
    expect(served.sort()).toEqual(documented.sort());
  });
  it('says of every route what it is, and of every body that nothing else is taken', () => {
    for (const [url, methods] of Object.entries(document.paths))
      for (const [method, said] of Object.entries(methods)) {
        const route = said as {
          summary?: string;
          requestBody?: { content: Record<string, { schema: object }> };
        };
        expect([url, method, route.summary?.length]).toEqual([url, method, expect.any(Number)]);
        const schema = route.requestBody?.content['application/json']?.schema;
        if (schema !== undefined)
          expect([url, JSON.stringify(schema)]).toEqual([
            url,
            expect.stringContaining('"additionalProperties":false'),
          ]);
      }
  });
  it('holds through a session: every answer on the way is as it says', async () => {
    const conformance = new Conformance(document);
    const get = async (url: string): Promise<void> => {
      const answer = await desk.ask('GET', url, { cookie: token });
      conformance.check('GET', url, answer);
      expect(answer.statusCode).toBe(200);
    };
    const post = async (url: string, body: object): Promise<void> =>
      conformance.check('POST', url, await desk.post(url, token, body));
    await post('/api/orders', { order: 'start', wish: { targetEnergyKwh: 0.6 } });
    await post('/api/bench/faults', {
      fault: 'sensor-reads-nothing',
      part: 'meter',
      phase: 'ramping',
      afterS: 2,
    });
    await post('/api/orders', { order: 'sample-pilot' });
    for (let i = 0; desk.bench.running !== null && i < 5000; i++) {
      await desk.driver.pump();
      if (i % 8 === 0) for (const url of ['/api/state', '/api/me']) await get(url);
    }
    for (const url of [
      '/api/about',
      '/api/state',
      '/api/events',
      '/api/traces?from=3',
      '/api/pilot',
      '/metrics',
    ])
      await get(url);
    expect(desk.bench.session?.tripped).toBe(true);
    const { body } = await desk.ask('GET', '/metrics', { cookie: token });
    expect(body).toMatch(/^loopwarden_session_tripped\{rig="depot-cable"\} 1$/m);
    expect(body).toMatch(/^loopwarden_trip_latched\{rig="depot-cable"\} 1$/m);
    for (const body of [{ order: 'start' }, { order: 'stop' }, { order: 'acknowledge' }, { order: 'fly' }])
      await post('/api/orders', body);
    await post('/api/bench/speed', { speed: 61 });
    await post('/api/bench/renew', {});
    expect([...conformance.held].sort()).toEqual(
      expect.arrayContaining([
        'GET /api/state 200',
        'GET /metrics 200',
        'POST /api/orders 202',
        'POST /api/orders 400',
      ]),
    );
  });
  it('says that orders carry a header, and what they are no substitute for', () => {
    const text = JSON.stringify(document);
    expect(text).toMatch(/x-loopwarden: page/);
    expect(text).toMatch(/not the emergency stop/);
  });
});
