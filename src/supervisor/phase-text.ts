/** What each phase proves or does, in a few words. */
import type { Phase } from '../rig/roles.js';

export const PHASE_TEXT: Readonly<Record<Phase, string>> = {
  parked: 'nothing ordered',
  securing: 'train, bond, plug and stop chain; poles open and dead at rest',
  'proving-presence': 'the plug is really in the train',
  'checking-isolation': 'charger and cable side to chassis',
  'joining-train': 'train contactors, rafts, isolation of the joined network',
  'matching-voltage': 'raising the output to the train voltage',
  'pre-charging': 'charging the output through the resistor',
  closing: 'P, then N, each by auxiliary and by volts',
  ramping: 'to the hold point, then at the governed slope',
  holding: 'the least limit governs',
  tapering: 'the battery governs',
  'ramping-down': 'controlled, category 1',
  opening: 'P proven open, then N',
  'parting-train': 'train contactors proven open',
  bleeding: 'plug side to a safe voltage',
  released: 'plug freed',
  'tripped-ramping-down': 'TRIPPED: ramping down under a deadline',
  'making-safe': 'TRIPPED: making safe',
  safe: 'tripped and proven safe; latched',
  'not-proven-dead': 'NOT PROVEN DEAD: KEEP AWAY',
};
