/** Which phases each of the words stands for, written out. */
import { expect, it } from 'vitest';
import { afterTrip, between, inSession, underCurrent } from '../../../src/checks/phases.js';
import { PHASES, type Phase } from '../../../src/rig/roles.js';

const ON_THE_WAY: readonly Phase[] = [
  ...(['securing', 'proving-presence', 'checking-isolation', 'joining-train', 'matching-voltage'] as const),
  ...(['pre-charging', 'closing', 'ramping', 'holding', 'tapering', 'ramping-down'] as const),
  ...(['opening', 'parting-train', 'bleeding'] as const),
];
const CURRENT: readonly Phase[] = ['ramping', 'holding', 'tapering', 'ramping-down', 'tripped-ramping-down'];
const TRIPPED: readonly Phase[] = ['making-safe', 'safe', 'not-proven-dead'];

it.each([
  ['in session', inSession, ON_THE_WAY],
  ['under current', underCurrent, CURRENT],
  ['after a trip', afterTrip, TRIPPED],
] as const)('%s', (_, is, phases) => {
  expect(PHASES.filter(is)).toEqual(phases);
});

it('takes both ends of a part of the session with it', () => {
  const part: readonly Phase[] = ['closing', 'ramping', 'holding'];
  expect(PHASES.filter((phase) => between(phase, 'closing', 'holding'))).toEqual(part);
  expect(PHASES.filter((phase) => between(phase, 'parked', 'parked'))).toEqual(['parked']);
  // A phase of no session, from another version of a journal say, is in none of its parts.
  expect(between('nowhere' as Phase, 'parked', 'not-proven-dead')).toBe(false);
});
