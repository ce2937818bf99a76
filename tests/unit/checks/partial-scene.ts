/** A scene in which some roles have never been heard in this session. */
import type { Observation } from '../../../src/checks/check.js';
import type { Role } from '../../../src/rig/roles.js';
import { Scene } from './build.js';

type Single = Exclude<Role, 'device' | 'raft'>;

export class PartialScene extends Scene {
  readonly missing = new Set<Single>();

  override report(ms?: number): Observation {
    return this.#without(super.report(ms));
  }

  override tick(ms: number): Observation {
    return this.#without(super.tick(ms));
  }

  #without(seen: Observation): Observation {
    return { ...seen, ...Object.fromEntries([...this.missing].map((role) => [role, null])) };
  }
}
