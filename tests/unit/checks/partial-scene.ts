/** A scene in which some roles have never been heard in this session. */
import type { Observation } from '../../../src/checks/check.js';
import type { Role } from '../../../src/rig/roles.js';
import { Scene } from './build.js';

type Single = Exclude<Role, 'device' | 'raft'>;

export class PartialScene extends Scene {
  readonly missing = new Set<Single>();
  /** Ports whose device has said nothing of itself. */
  readonly silentDevices = new Set<number>();

  override report(ms?: number): Observation {
    return this.#without(super.report(ms));
  }

  override tick(ms: number): Observation {
    return this.#without(super.tick(ms));
  }

  #without(seen: Observation): Observation {
    const device = seen.device.map((each, port) => (this.silentDevices.has(port) ? null : each));
    return { ...seen, device, ...Object.fromEntries([...this.missing].map((role) => [role, null])) };
  }
}
