/** How long each timer of the machine runs, from the rig. */
import type { TimerId } from '../../machines/vocabulary.js';
import type { Rig } from '../rig/schema.js';

/** Margin of the auxiliary and of the report on top of the contactor's own time. */
const POLE_MARGIN_MS = 30;

export function timerMs(timer: TimerId, rig: Rig): number {
  const t = rig.times;
  switch (timer) {
    case 'securing':
      return t.securingS * 1000;
    case 'proving-presence':
      return t.presenceS * 1000;
    case 'checking-isolation':
      return t.isolationS * 1000;
    case 'joining-train':
      return t.joiningS * 1000;
    case 'matching-voltage':
      return t.matchingS * 1000;
    case 'pre-charging':
      return (rig.precharge?.maxS ?? 0) * 1000 + t.closingS * 1000;
    case 'closing':
      return t.closingS * 1000;
    case 'ramping':
      return t.rampingS * 1000;
    case 'ramping-down':
      return t.rampingDownS * 1000;
    case 'opening':
      return t.openingS * 1000;
    case 'pole-settling':
      return rig.contactors.openMs + POLE_MARGIN_MS;
    case 'parting-train':
      return t.partingS * 1000;
    case 'bleeding':
      return t.bleedingS * 1000;
    case 'tripped-ramping-down':
      // From the full rating at the rig's slope, and a second for the current loop and the link.
      return (rig.connection.ratedCurrentA / rig.ramp.downAPerS) * 1000 + 1000;
    case 'making-safe':
      return t.makingSafeS * 1000;
  }
}
