/** The handshake of one port: says hello until welcomed, and holds the welcome against the rig. Pure. */
import type { Code } from '../checks/catalogue.js';
import type { Hello, ServedRole, Welcome } from '../link/frames.js';
import { PROTOCOL_VERSION, servedRoles } from '../link/frames.js';
import type { Rig } from '../rig/schema.js';

export const HELLO_EVERY_MS = 500;
/** A device that has not answered by then is not there. */
export const HANDSHAKE_MS = 3000;

export interface StartFault {
  readonly code: Code;
  readonly part: string;
  readonly reading?: number;
  readonly limit?: number;
  readonly unit?: string;
  readonly setting?: string;
  /** The last session ended not proven dead, by a cause that puts instruments or auxiliaries in doubt. */
  readonly inDoubt?: boolean;
}

export function rolesOfPort(rig: Rig, port: number): ServedRole[] {
  return servedRoles(rig.link.ports[port]?.roles ?? [], rig.battery.rafts.length);
}

export function helloOf(rig: Rig, port: number): Hello {
  return {
    verb: 'hello',
    version: PROTOCOL_VERSION,
    periodMs: rig.link.periodMs,
    watchdogMs: rig.link.deviceWatchdogMs,
    maxCurrentA: rig.converter.maxCurrentA,
    maxVoltageV: rig.converter.maxVoltageV,
    roles: rolesOfPort(rig, port),
  };
}

/** Everything in a welcome that forbids a start. */
export function faultsOf(welcome: Welcome, rig: Rig, port: number): StartFault[] {
  const name = rig.link.ports[port]?.name ?? String(port);
  const faults: StartFault[] = [];
  const claim = (
    ok: boolean,
    what: string,
    reading: number,
    limit: number,
    unit: string,
    setting: string,
  ): void => {
    if (!ok) faults.push({ code: 'device-limits', part: `${name}: ${what}`, reading, limit, unit, setting });
  };
  claim(
    welcome.version === PROTOCOL_VERSION,
    'protocol version',
    welcome.version,
    PROTOCOL_VERSION,
    '',
    'link.ports',
  );
  const missing = rolesOfPort(rig, port).filter((r) => !welcome.roles.includes(r));
  claim(missing.length === 0, `does not serve ${missing.join(', ')}`, missing.length, 0, '', 'link.ports');
  if (rolesOfPort(rig, port).includes('converter')) {
    const { maxCurrentA, maxVoltageV } = rig.converter;
    claim(
      maxCurrentA <= welcome.maxCurrentA,
      'current limit',
      welcome.maxCurrentA,
      maxCurrentA,
      'A',
      'converter.maxCurrentA',
    );
    claim(
      maxVoltageV <= welcome.maxVoltageV,
      'voltage limit',
      welcome.maxVoltageV,
      maxVoltageV,
      'V',
      'converter.maxVoltageV',
    );
  }
  const { periodMs, silenceMs } = rig.link;
  claim(welcome.periodMs <= periodMs, 'report period', welcome.periodMs, periodMs, 'ms', 'link.periodMs');
  claim(
    welcome.watchdogMs <= silenceMs,
    'watchdog',
    welcome.watchdogMs,
    silenceMs,
    'ms',
    'link.deviceWatchdogMs',
  );
  return faults;
}
