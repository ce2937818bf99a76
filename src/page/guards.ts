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

/** `host:port` of this server as a browser may write it; without the port where it is the usual one. */
export function hostsOf({ host, tls, names }: Place, port: number): ReadonlySet<string> {
  const all = isLoopback(host)
    ? [...LOOPBACK, ...names]
    : [host.includes(':') ? `[${host}]` : host, ...names];
  const usual = tls ? 443 : 80;
  return new Set(all.flatMap((name) => (port === usual ? [name, `${name}:${port}`] : [`${name}:${port}`])));
}

/** @returns why it is turned away, or null */
export function strange(request: FastifyRequest, hosts: ReadonlySet<string>, tls: boolean): string | null {
  const { host = '', origin } = request.headers;
  if (!hosts.has(host.toLowerCase())) return 'this server does not go by that host name';
  const scheme = tls ? 'https' : 'http';
  if (origin !== undefined && ![...hosts].some((h) => origin.toLowerCase() === `${scheme}://${h}`))
    return 'a page of another origin may not ask this server';
  if (request.headers['sec-fetch-site'] === 'cross-site' && request.headers['sec-fetch-mode'] !== 'navigate')
    return 'a page of another site may not ask this server';
  if (request.method === 'POST' && request.headers[OURS_HEADER] !== OURS)
    return `orders carry the header ${OURS_HEADER}: ${OURS}`;
  return null;
}

/** Somebody at another machine, or behind a proxy that says nothing sure about who is. */
export const isRemote = (request: FastifyRequest): boolean =>
  !isLoopback(request.socket.remoteAddress ?? '') ||
  request.headers['x-forwarded-for'] !== undefined ||
  request.headers.forwarded !== undefined;
