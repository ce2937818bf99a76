/**
 * What is turned away before anything is looked at: requests under a host name that is not ours (a name rebound to
 * this address), and orders that come from a page of somebody else's.
 */
import type { FastifyRequest } from 'fastify';

/** An order must carry it: no form and no image of another site can, and we allow no other site to. */
export const OURS_HEADER = 'x-loopwarden';
export const OURS = 'page';

const LOOPBACK = ['127.0.0.1', 'localhost', '[::1]'];

export interface Place {
  /** As the socket is bound. */
  readonly host: string;
  readonly tls: boolean;
  /** Further names under which it is reached. */
  readonly names: readonly string[];
}

export const isLoopback = (address: string): boolean =>
  /^(127\.\d+\.\d+\.\d+|::1|localhost|::ffff:127\.\d+\.\d+\.\d+)$/.test(address);

/** Every address of this machine, the loopback among them. */
const isAny = (host: string): boolean => host === '0.0.0.0' || /^[0:]+$/.test(host);

/** As browsers write it: IPv6 in brackets, small and short. */
const written = (host: string): string => (host.includes(':') ? new URL(`http://[${host}]`).hostname : host);

/** `host:port` of this server as a browser may write it; without the port where it is the usual one. */
export function hostsOf({ host, tls, names }: Place, port: number): ReadonlySet<string> {
  const own = isLoopback(host) || isAny(host) ? [...LOOPBACK, written(host)] : [written(host)];
  const all = [...own, ...names];
  const usual = tls ? 443 : 80;
  return new Set(all.flatMap((name) => (port === usual ? [name, `${name}:${port}`] : [`${name}:${port}`])));
}

/** @returns why it is turned away, or null */
export function strange(request: FastifyRequest, hosts: ReadonlySet<string>, tls: boolean): string | null {
  const { host = '', origin } = request.headers;
  // A whole address names a host of its own, which would stand against the one that is looked at here.
  if (!request.url.startsWith('/')) return 'this server is no proxy: ask for a path';
  if (!hosts.has(host.toLowerCase())) return 'this server does not go by that host name';
  const scheme = tls ? 'https' : 'http';
  if (origin !== undefined && ![...hosts].some((h) => origin.toLowerCase() === `${scheme}://${h}`))
    return 'a page of another origin may not ask this server';
  // Also one of the same site: to a browser every port of this machine is that, whoever serves there.
  const site = request.headers['sec-fetch-site'] ?? 'none';
  if (site !== 'same-origin' && site !== 'none' && request.headers['sec-fetch-mode'] !== 'navigate')
    return 'a page of another site may not ask this server';
  if (request.method === 'POST' && request.headers[OURS_HEADER] !== OURS)
    return `orders carry the header ${OURS_HEADER}: ${OURS}`;
  return null;
}

const FORWARDED = /^(forwarded|via|x-real-ip|x-forwarded-.*)$/;

/**
 * Somebody at another machine, or behind a proxy that says nothing sure about who is. Where the page is served at an
 * address of a network, this machine itself comes from that same address, and nobody else does.
 */
export function isRemote({ socket, headers }: Pick<FastifyRequest, 'socket' | 'headers'>): boolean {
  const from = socket.remoteAddress ?? '';
  const isHere = from !== '' && (isLoopback(from) || from === socket.localAddress);
  return !isHere || Object.keys(headers).some((name) => FORWARDED.test(name));
}
