/** The link of one port of a rig: serial with the line protocol, or an adapter with the instrument behind it. */
import type { Clock } from '../host/clock.js';
import type { Diagnostics } from '../host/diagnostics.js';
import type { Link } from '../link/link.js';
import { SerialLink } from '../link/serial.js';
import { SerialBytes } from '../link/serial-bytes.js';
import type { LoadedRig } from '../rig/load.js';
import { InstrumentLink } from './adapter.js';
import { ModbusTalk } from './modbus-talk.js';
import { ScpiTalk } from './scpi-talk.js';

export interface OpenOptions {
  readonly clock: Clock;
  readonly loaded: LoadedRig;
  /** Index in the rig. */
  readonly port: number;
  readonly path: string;
  readonly diagnostics: Diagnostics;
}

export function linkOf({ clock, loaded, port, path, diagnostics }: OpenOptions): Link {
  const { rig, instruments } = loaded;
  const { name, baud, pollMs } = rig.link.ports[port]!;
  const place = { clock, port: name, path, baud };
  const map = instruments.get(name);
  if (map === undefined || pollMs === undefined) return new SerialLink(place);
  return new InstrumentLink({
    clock,
    rig,
    port: name,
    path,
    map,
    pollMs,
    diagnostics,
    talk: ({ trouble, note }) => {
      if (map.speaks === 'scpi')
        return new ScpiTalk({ clock, map, link: new SerialLink(place), path, trouble, note });
      return new ModbusTalk({ clock, map, link: new SerialBytes(place), baud, path, trouble });
    },
  });
}
