/** The link of one port of a rig: serial with the line protocol, or an adapter with the instrument behind it. */
import type { Clock } from '../host/clock.js';
import type { Diagnostics } from '../host/diagnostics.js';
import type { Link } from '../link/link.js';
import { SerialLink } from '../link/serial.js';
import { SerialBytes } from '../link/serial-bytes.js';
import type { InstrumentMap } from '../rig/instrument-schema.js';
import type { LoadedRig } from '../rig/load.js';
import { InstrumentLink, type MakeTalk } from './adapter.js';
import { ModbusTalk } from './modbus-talk.js';
import { ScpiTalk } from './scpi-talk.js';
import type { Talk } from './talk.js';

/** Where an instrument stands. */
export interface Place {
  readonly clock: Clock;
  /** For messages. */
  readonly port: string;
  readonly path: string;
  readonly baud: number;
}

/** What talks to an instrument on a serial port, as its map says. */
export function talkOf(map: InstrumentMap, place: Place, hear: Parameters<MakeTalk>[0]): Talk {
  const { clock, path, baud } = place;
  return map.speaks === 'scpi'
    ? new ScpiTalk({ clock, map, link: new SerialLink(place), path, ...hear })
    : new ModbusTalk({ clock, map, link: new SerialBytes(place), baud, path, ...hear });
}

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
    talk: (hear) => talkOf(map, place, hear),
  });
}
