/** Where a page is served: on the loopback address, or on another one with TLS. */
import { isIP } from 'node:net';
import { createSecureContext } from 'node:tls';
import { InputError } from '../host/input-error.js';
import { isLoopback, type Place } from '../page/guards.js';
import { textOf } from './option-file.js';

export interface PlaceOptions {
  readonly http: string;
  readonly tlsCert?: string;
  readonly tlsKey?: string;
  readonly hostName: string[];
}

export interface ServedAt {
  readonly place: Place;
  readonly port: number;
  readonly tls: { readonly cert: string; readonly key: string } | undefined;
}

const HOST_NAME = /^[a-z0-9]([a-z0-9.-]{0,250}[a-z0-9])?$/i;

/** @throws InputError */
export function placeOf({ http, tlsCert, tlsKey, hostName }: PlaceOptions): ServedAt {
  const found = /^(?:\[(?<six>[0-9a-f:.]+)\]|(?<four>[^:[\]]+)):(?<port>\d{1,5})$/i.exec(http);
  const host = found?.groups?.six ?? found?.groups?.four ?? '';
  const port = Number(found?.groups?.port ?? Number.NaN);
  if (!(isIP(host) !== 0 || host === 'localhost') || !(port >= 0 && port <= 65535))
    throw new InputError(`--http ${http}: expected an address and a port, e.g. 127.0.0.1:8750 or [::1]:8750`);
  const strange = hostName.find((name) => !HOST_NAME.test(name));
  if (strange !== undefined) throw new InputError(`--host-name ${strange}: expected the name of a host`);
  if ((tlsCert === undefined) !== (tlsKey === undefined))
    throw new InputError('--tls-cert and --tls-key belong together: give both');
  if (!isLoopback(host) && tlsCert === undefined)
    throw new InputError(
      `--http ${http}: an address that other machines reach needs TLS: give --tls-cert and --tls-key, or serve on 127.0.0.1`,
    );
  const tls =
    tlsCert === undefined || tlsKey === undefined
      ? undefined
      : { cert: textOf('--tls-cert', tlsCert), key: textOf('--tls-key', tlsKey) };
  if (tls !== undefined) mustBeAPair(tls, tlsCert, tlsKey);
  return { place: { host, tls: tls !== undefined, names: hostName.map((n) => n.toLowerCase()) }, port, tls };
}

/** Before anything is opened: a key that is of another certificate shows only with the first request otherwise. */
function mustBeAPair(
  pair: { readonly cert: string; readonly key: string },
  cert?: string,
  key?: string,
): void {
  try {
    createSecureContext(pair);
  } catch (error) {
    throw new InputError(
      `--tls-cert ${cert} and --tls-key ${key} cannot be used together: ${(error as Error).message}; expected a certificate and its private key, both as PEM`,
    );
  }
}
