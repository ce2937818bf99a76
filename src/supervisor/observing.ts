/**
 * While a hard-wired protection is proven on a bench, the supervisor's own finding of the same fault must not get
 * there first: for a stated time it only observes. It still trips once that time is over, and it is allowed only
 * under a current at which the charger may be left to itself that long. The time is one for all codes and runs from
 * the first of them: neither a finding that comes and goes nor one after the other stretches it.
 */
import type { Code } from '../checks/catalogue.js';
import type { Wish } from '../checks/check.js';
import type { Rig } from '../rig/schema.js';

export interface Observing {
  readonly codes: readonly Code[];
  /** From the first out-of-limit sample of any of them to the trip, ms. */
  readonly forMs: number;
}

/** Of the rated current; common practice for proving a trip, no source. */
export const LOW_ENERGY_SHARE = 0.1;
/** Longest the supervisor may look on, ms. */
export const MAX_OBSERVING_MS = 2000;

export const lowEnergyA = (rig: Rig): number => LOW_ENERGY_SHARE * rig.connection.ratedCurrentA;

/** @returns why it may not, in words for people; null when it may */
export function mayNotObserve({ forMs }: Observing, wish: Wish, rig: Rig): string | null {
  if (!(wish.maxCurrentA <= lowEnergyA(rig)))
    return `a finding may only be observed at no more than ${lowEnergyA(rig)} A (a tenth of the rated current)`;
  if (!(forMs > 0 && forMs <= MAX_OBSERVING_MS))
    return `a finding may be observed for ${MAX_OBSERVING_MS} ms at most`;
  return null;
}
