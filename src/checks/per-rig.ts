/** What follows from the rig alone is worked out once for each: a loaded rig is frozen, so it cannot go stale. */
import type { Rig } from '../rig/schema.js';

export function perRig<T>(workOut: (rig: Rig) => T): (rig: Rig) => T {
  const known = new WeakMap<Rig, T>();
  return (rig) => {
    const before = known.get(rig);
    if (before !== undefined) return before;
    const found = workOut(rig);
    known.set(rig, found);
    return found;
  };
}
