/** `--port PATH` or `--port name=PATH`, repeated, matched to the ports of a rig; `serve` calls it `--port-serial`. */
import { realClock } from '../host/clock.js';
import type { Diagnostics } from '../host/diagnostics.js';
import { InputError } from '../host/input-error.js';
import { linkOf } from '../instruments/open.js';
import type { Link } from '../link/link.js';
import { SerialLink } from '../link/serial.js';
import type { LoadedRig } from '../rig/load.js';
import type { Rig } from '../rig/schema.js';

export const collect = (value: string, before: string[]): string[] => [...before, value];

/** @returns one path for each port, in rig order @throws InputError naming every port left without one */
export function pathsOf(given: readonly string[], rig: Rig, option = '--port'): string[] {
  const names = rig.link.ports.map((p) => p.name);
  const byName = new Map<string, string>();
  for (const text of given) {
    const at = text.indexOf('=');
    const named = at > 0 && names.includes(text.slice(0, at));
    const only = names.length === 1 ? names[0] : undefined;
    const name = named ? text.slice(0, at) : at > 0 && !text.startsWith('/') ? undefined : only;
    const wanted = names.map((n) => `${option} ${n}=PATH`).join(' ');
    if (name === undefined)
      throw new InputError(
        `${option} ${text}: rig ${rig.name} has the ports ${names.join(', ')}; give ${wanted}`,
      );
    if (byName.has(name)) throw new InputError(`${option} ${text}: port ${name} is given twice`);
    byName.set(name, named ? text.slice(at + 1) : text);
  }
  const missing = names.filter((n) => !byName.has(n));
  if (missing.length > 0) {
    const wanted =
      names.length === 1 ? `${option} PATH` : missing.map((n) => `${option} ${n}=PATH`).join(' ');
    throw new InputError(`no path for port ${missing.join(', ')} of rig ${rig.name}: give ${wanted}`);
  }
  return names.map((n) => byName.get(n) as string);
}

/** The supervisor's links: serial, and an adapter where the rig names an instrument. */
export function supervisorLinks(
  given: readonly string[],
  loaded: LoadedRig,
  diagnostics: Diagnostics,
): Link[] {
  return pathsOf(given, loaded.rig).map((path, port) =>
    linkOf({ clock: realClock, loaded, port, path, diagnostics }),
  );
}

/** The device's end of every port: lines as they come. */
export function serialLinks(given: readonly string[], rig: Rig): Link[] {
  return pathsOf(given, rig).map((path, i) => {
    const { name, baud } = rig.link.ports[i]!;
    return new SerialLink({ clock: realClock, port: name, path, baud });
  });
}
