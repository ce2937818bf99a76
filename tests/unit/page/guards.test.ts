/** What is turned away before anything is looked at, and who counts as being somewhere else. */
import type { FastifyRequest } from 'fastify';
import { describe, expect, it } from 'vitest';
import { placeOf } from '../../../src/cli/http-place.js';
import { InputError } from '../../../src/host/input-error.js';
import { hostsOf, isLoopback, isRemote, type Place, strange } from '../../../src/page/guards.js';

const place = (host: string, more: Partial<Place> = {}): Place => ({ host, tls: false, names: [], ...more });
const hosts = (...asked: Parameters<typeof hostsOf>): string[] => [...hostsOf(...asked)].sort();

describe('host names this server goes by', () => {
  it.each<[string, Place, number, string[]]>([
    ['loopback', place('127.0.0.1'), 8750, ['127.0.0.1:8750', '[::1]:8750', 'localhost:8750']],
    ['by name', place('localhost'), 8750, ['127.0.0.1:8750', '[::1]:8750', 'localhost:8750']],
    ['IPv6 loopback', place('::1'), 1, ['127.0.0.1:1', '[::1]:1', 'localhost:1']],
    [
      'another loopback address is itself one of them',
      place('127.0.0.2'),
      1,
      ['127.0.0.1:1', '127.0.0.2:1', '[::1]:1', 'localhost:1'],
    ],
    [
      'port 80 is not written',
      place('127.0.0.1'),
      80,
      ['127.0.0.1', '127.0.0.1:80', '[::1]', '[::1]:80', 'localhost', 'localhost:80'],
    ],
    ['port 443 without TLS is', place('10.0.0.5'), 443, ['10.0.0.5:443']],
    ['port 443 with TLS is not', place('10.0.0.5', { tls: true }), 443, ['10.0.0.5', '10.0.0.5:443']],
    ['port 80 with TLS is', place('10.0.0.5', { tls: true }), 80, ['10.0.0.5:80']],
    ['an address of a network alone', place('10.0.0.5', { tls: true }), 1, ['10.0.0.5:1']],
    ['with its names', place('10.0.0.5', { names: ['depot.example'] }), 1, ['10.0.0.5:1', 'depot.example:1']],
    ['IPv6 as browsers write it', place('2001:DB8:0:0::1'), 1, ['[2001:db8::1]:1']],
    [
      'every address: the machine itself comes by loopback',
      place('0.0.0.0', { tls: true }),
      1,
      ['0.0.0.0:1', '127.0.0.1:1', '[::1]:1', 'localhost:1'],
    ],
    [
      'every address, IPv6',
      place('::', { tls: true }),
      1,
      ['127.0.0.1:1', '[::1]:1', '[::]:1', 'localhost:1'],
    ],
  ])('%s', (_, at, port, expected) => {
    expect(hosts(at, port)).toEqual(expected);
  });
  it('never a name that only begins or ends like one', () => {
    const ours = hostsOf(place('127.0.0.1', { names: ['depot.example'] }), 8750);
    for (const host of [
      '127.0.0.1',
      'localhost',
      '127.0.0.1:8751',
      '127.0.0.1.evil.example:8750',
      'xdepot.example:8750',
    ])
      expect(ours.has(host)).toBe(false);
  });
});

const request = (method: string, headers: Record<string, string>): FastifyRequest =>
  ({
    method,
    url: '/api/orders',
    headers: { host: 'localhost:8750', ...headers },
  }) as unknown as FastifyRequest;

describe('a request', () => {
  const ours = hostsOf(place('127.0.0.1'), 8750);
  const why = (method: string, headers: Record<string, string>, tls = false) =>
    strange(request(method, headers), ours, tls);
  const OURS = { 'x-loopwarden': 'page' };
  it.each<[string, string, Record<string, string>]>([
    ['typed by hand', 'GET', {}],
    ['from our page', 'GET', { 'sec-fetch-site': 'same-origin', 'sec-fetch-mode': 'cors' }],
    ['opened from a bookmark', 'GET', { 'sec-fetch-site': 'none', 'sec-fetch-mode': 'navigate' }],
    ['by a link of another site', 'GET', { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate' }],
    [
      'an order of ours',
      'POST',
      { ...OURS, origin: 'http://localhost:8750', 'sec-fetch-site': 'same-origin' },
    ],
    [
      'under a name in capitals',
      'POST',
      { ...OURS, host: 'LOCALHOST:8750', origin: 'HTTP://127.0.0.1:8750' },
    ],
  ])('is let in %s', (_, method, headers) => {
    expect(why(method, headers)).toBeNull();
  });
  it.each<[string, string, Record<string, string>, RegExp]>([
    ['to a name rebound to us', 'GET', { host: 'evil.example:8750' }, /host name/],
    ['to no name', 'GET', { host: '' }, /host name/],
    ['to another port', 'GET', { host: 'localhost:1' }, /host name/],
    ['from another origin', 'GET', { origin: 'http://evil.example' }, /origin/],
    ['from another port of this machine', 'POST', { ...OURS, origin: 'http://localhost:3000' }, /origin/],
    ['from a document without an origin', 'POST', { ...OURS, origin: 'null' }, /origin/],
    ['with an empty origin', 'POST', { ...OURS, origin: '' }, /origin/],
    ['over the other scheme', 'POST', { ...OURS, origin: 'https://localhost:8750' }, /origin/],
    [
      'embedded by another site',
      'GET',
      { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'no-cors' },
      /site/,
    ],
    ['embedded by another port', 'GET', { 'sec-fetch-site': 'same-site', 'sec-fetch-mode': 'cors' }, /site/],
    [
      'as a form of another site',
      'POST',
      { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate' },
      /header/,
    ],
    ['without our header', 'POST', {}, /x-loopwarden/],
    ['with our header, wrong', 'POST', { 'x-loopwarden': 'Page' }, /x-loopwarden/],
  ])('is turned away %s', (_, method, headers, text) => {
    expect(why(method, headers)).toMatch(text);
  });
  it('over TLS has an origin of TLS', () => {
    expect(why('POST', { ...OURS, origin: 'https://localhost:8750' }, true)).toBeNull();
    expect(why('POST', { ...OURS, origin: 'http://localhost:8750' }, true)).toMatch(/origin/);
  });
});

describe('somebody', () => {
  const remote = (remoteAddress: string | undefined, localAddress: string, headers = {}): boolean =>
    isRemote({ socket: { remoteAddress, localAddress }, headers } as unknown as FastifyRequest);
  it.each([
    ['127.0.0.1', '127.0.0.1', false],
    ['127.5.6.7', '127.0.0.1', false],
    ['::1', '::1', false],
    ['::ffff:127.0.0.1', '::ffff:127.0.0.1', false],
    // This machine at its own address of the network.
    ['10.0.0.5', '10.0.0.5', false],
    ['10.0.0.6', '10.0.0.5', true],
    ['fe80::1', 'fe80::2', true],
    ['::ffff:10.0.0.6', '::ffff:10.0.0.5', true],
    ['128.0.0.1', '10.0.0.5', true],
    [undefined, '127.0.0.1', true],
    ['', '', true],
  ])('from %s to %s is remote: %s', (from, to, expected) => {
    expect(remote(from, to)).toBe(expected);
  });
  it.each(['x-forwarded-for', 'x-forwarded-host', 'x-forwarded-proto', 'forwarded', 'via', 'x-real-ip'])(
    'forwarded, as %s says, is remote',
    (header) => {
      expect(remote('127.0.0.1', '127.0.0.1', { [header]: '' })).toBe(true);
      expect(remote('127.0.0.1', '127.0.0.1', { [`${header}x`.replace('x-f', 'f')]: '' })).toBe(false);
    },
  );
  it('of a name that begins like the loopback address is not at home', () => {
    for (const name of ['127.0.0.1.evil.example', 'localhost.evil.example', '127.0.0', '1127.0.0.1', ''])
      expect(isLoopback(name)).toBe(false);
  });
});

describe('where to serve', () => {
  const at = (http: string, more = {}) => placeOf({ http, hostName: [], ...more });
  it.each([
    ['127.0.0.1:8750', '127.0.0.1', 8750],
    ['127.0.0.1:0', '127.0.0.1', 0],
    ['[::1]:65535', '::1', 65535],
    ['localhost:80', 'localhost', 80],
  ])('%s', (http, host, port) => {
    expect(at(http)).toEqual({ place: { host, tls: false, names: [] }, port, tls: undefined });
  });
  it.each([
    ...['', '8750', '127.0.0.1', '127.0.0.1:', ':8750', '127.0.0.1:65536', '127.0.0.1:-1', '127.0.0.1:x'],
    ...[
      '::1:8750',
      '[::1]',
      '[127.0.0.1]:x',
      'http://127.0.0.1:8750',
      '127.0.0.1:8750/',
      'depot.example:8750',
    ],
    ...['999.0.0.1:1', '127.1:1', '0x7f000001:1', '2130706433:1', '[::g]:1', '127.0.0.1:1e3', ' 127.0.0.1:1'],
    ...['127.0.0.1:8750\n'],
  ])('%j is refused in one sentence that shows what is expected', (http) => {
    expect(() => at(http)).toThrow(InputError);
    expect(() => at(http)).toThrow(/^--http .*: expected an address and a port, e\.g\. 127\.0\.0\.1:8750/s);
  });
  it.each(['0.0.0.0:1', '10.0.0.5:1', '[::]:1', '[2001:db8::1]:1', '[::ffff:10.0.0.5]:1', '128.0.0.1:1'])(
    '%s needs TLS',
    (http) => {
      expect(() => at(http)).toThrow(/needs TLS: give --tls-cert and --tls-key/);
    },
  );
  it('takes certificate and key only together, and readable', () => {
    expect(() => at('127.0.0.1:1', { tlsCert: 'a' })).toThrow(/belong together/);
    expect(() => at('127.0.0.1:1', { tlsKey: 'a' })).toThrow(/belong together/);
    const missing = { tlsCert: '/nowhere/cert.pem', tlsKey: '/nowhere/key.pem' };
    expect(() => at('0.0.0.0:1', missing)).toThrow(/^--tls-cert \/nowhere\/cert\.pem cannot be read/);
  });
  it.each(['', '-a', 'a b', 'http://a', 'a:1', 'a/', '*'])('--host-name %j is refused', (name) => {
    expect(() => at('127.0.0.1:1', { hostName: [name] })).toThrow(
      /^--host-name .*: expected the name of a host/,
    );
  });
  it('keeps names as browsers write them', () => {
    expect(at('127.0.0.1:1', { hostName: ['Depot.Example'] }).place.names).toEqual(['depot.example']);
  });
});
