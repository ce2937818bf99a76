/**
 * The simulated charger under proof, sound or with one protection weakened: late by twice its time, its threshold off
 * by a fifth, or not there at all. What a procedure is worth shows in which of these it finds.
 */
import type { Injection } from '../../simulators/faults.js';
import type { Proving } from '../../simulators/world.js';
import type { Rig } from '../rig/schema.js';

export interface Charger {
  readonly text: string;
  readonly relays?: Proving['relays'];
  readonly watchdogLate?: number;
  /** What was really built. */
  readonly built?: (rig: Rig) => Rig;
  /** Faults it has from the start. */
  readonly inject?: readonly Injection[];
}

const LATE = 2;
const HIGH = 1.2;
const LOW = 0.8;
/** A watchdog that is not there. */
const NEVER = 1e6;

const slower = (rig: Rig): Rig => ({
  ...rig,
  contactors: { ...rig.contactors, openMs: rig.contactors.openMs * LATE },
});
const bled =
  (factor: number) =>
  (rig: Rig): Rig => ({
    ...rig,
    bleeder: { ...rig.bleeder, outputOhm: rig.bleeder.outputOhm * factor },
  });

export const SOUND: Charger = { text: 'as built to the rig' };

export const WEAKNESSES: Readonly<Record<string, Charger>> = {
  'pilot-relay-late': { text: 'the pilot relay takes twice its time', relays: { pilot: { late: LATE } } },
  'pilot-relay-off': { text: 'the pilot relay lets go a fifth too low', relays: { pilot: { setting: LOW } } },
  'pilot-relay-missing': { text: 'there is no pilot relay', relays: { pilot: { missing: true } } },
  'stop-relay-late': {
    text: 'the relay of the stop button takes twice its time',
    relays: { 'stop-button': { late: LATE } },
  },
  'stop-relay-missing': {
    text: 'the stop button opens no coil circuit',
    relays: { 'stop-button': { missing: true } },
  },
  'thermostat-late': {
    text: 'the thermostat of the contact takes twice its time',
    relays: { 'over-temperature': { late: LATE } },
  },
  'thermostat-off': {
    text: 'the thermostat of the contact is set a fifth too high',
    relays: { 'over-temperature': { setting: HIGH } },
  },
  'thermostat-missing': {
    text: 'there is no thermostat at the contact',
    relays: { 'over-temperature': { missing: true } },
  },
  'watchdog-late': { text: 'the device waits twice its watchdog', watchdogLate: LATE },
  'watchdog-missing': { text: 'the device has no watchdog', watchdogLate: NEVER },
  'contactors-slow': { text: 'the contactors open in twice their time', built: slower },
  'bleeder-weak': { text: 'the output bleeder has twice its resistance', built: bled(LATE) },
  'bleeder-missing': {
    text: 'the output bleeder is open inside',
    inject: [{ fault: 'bleeder-dead', phase: 'start', part: 'output' }],
  },
  'converter-overshoots': {
    text: 'the converter overshoots by 8 % at the end of the ramp',
    inject: [{ fault: 'converter-overshoots', phase: 'ramping', afterS: 5, magnitude: 8 }],
  },
  'converter-ripples': {
    text: 'the converter ripples by five times what is stated',
    built: (rig) => ({
      ...rig,
      converter: { ...rig.converter, ripplePercent: 5 * rig.converter.ripplePercent },
    }),
  },
  'converter-falls-short': {
    text: 'the converter delivers a twentieth less than it is told',
    inject: [{ fault: 'converter-falls-short', phase: 'start', magnitude: 5 }],
  },
  'isolation-monitor-off': {
    text: 'the known resistor of the isolation device has a fifth less than stated',
    built: (rig) => ({ ...rig, isolation: { ...rig.isolation, knownOhm: rig.isolation.knownOhm * LOW } }),
  },
};

/** How a bench is to be built for this charger. */
export function provingOf(charger: Charger, rig: Rig): Proving {
  return {
    relays: charger.relays ?? {},
    unmarked: (charger.inject ?? []).map(({ fault }) => fault),
    ...(charger.built ? { built: charger.built(rig) } : {}),
    ...(charger.watchdogLate ? { watchdogLate: charger.watchdogLate } : {}),
  };
}
