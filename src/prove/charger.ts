/**
 * The simulated charger under proof, sound or with one protection weakened: late by twice its time, its threshold off
 * by a fifth, or not there at all. What a procedure is worth shows in which of these it finds.
 */

import type { Proving } from '../../simulators/coil-circuit.js';
import type { Injection } from '../../simulators/faults.js';
import type { Instrument, Instruments } from '../../simulators/sensors.js';
import type { Rig } from '../rig/schema.js';

export interface Charger {
  readonly text: string;
  readonly relays?: Proving['relays'];
  readonly watchdogLate?: number;
  readonly instruments?: Proving['instruments'];
  readonly forgetsLatch?: boolean;
  /** The disk of the journal confirms what it has not kept. */
  readonly diskLies?: boolean;
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
/** Held from here on: pilot and supply are up, nothing is live yet. */
const HELD = { heldFromMs: 3000 };
const of = (role: string, fields: readonly string[], instrument: Instrument): Instruments =>
  Object.fromEntries(fields.map((field) => [`${role}:${field}`, instrument]));
const LOOP = ['meanA', 'rmsA', 'peakPositiveA', 'peakNegativeA'];
const PLUG = ['plugV', 'plugMinV', 'plugMaxV', 'plugPositiveV', 'plugNegativeV'];
const piloted =
  (change: (pilot: NonNullable<Rig['pilot']>) => Partial<NonNullable<Rig['pilot']>>) =>
  (rig: Rig): Rig =>
    rig.pilot === undefined ? rig : { ...rig, pilot: { ...rig.pilot, ...change(rig.pilot) } };

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
  'stop-relay-forgets': {
    text: 'the coil circuit closes again when the stop button is reset',
    relays: { 'stop-button': { forgets: true } },
  },
  'over-voltage-relay-late': {
    text: 'the over-voltage relay takes twice its time',
    relays: { 'over-voltage': { late: LATE } },
  },
  'over-voltage-relay-off': {
    text: 'the over-voltage relay is set a fifth too high',
    relays: { 'over-voltage': { setting: HIGH } },
  },
  'over-voltage-relay-missing': {
    text: 'there is no over-voltage relay',
    relays: { 'over-voltage': { missing: true } },
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
  'watchdog-off': { text: 'the device waits a fifth longer than its watchdog', watchdogLate: HIGH },
  'watchdog-missing': { text: 'the device has no watchdog', watchdogLate: NEVER },
  'contactors-slow': { text: 'the contactors open in twice their time', built: slower },
  'latch-forgets': { text: 'the device loses its latch at the end of make-safe', forgetsLatch: true },
  'disk-lies': { text: 'the disk of the journal confirms before it has written', diskLies: true },
  'auxiliary-p-stands-open': {
    text: 'the auxiliary of pole P always says open',
    instruments: { 'contactor:closedP': { stuck: 0 } },
  },
  'auxiliary-n-stands-closed': {
    text: 'the auxiliary of pole N always says closed',
    instruments: { 'contactor:closedN': { stuck: 1 } },
  },
  'stop-reading-bridged': {
    text: 'the device always reads the stop chain as closed and the button as free',
    instruments: { 'stop:chainClosed': { stuck: 1 }, 'stop:buttonPressed': { stuck: 0 } },
  },
  'pilot-monitor-off': {
    text: 'the pilot monitor reads a fifth too much',
    instruments: of('loop', LOOP, { gain: HIGH }),
  },
  'pilot-monitor-missing': {
    text: 'what the pilot monitor reads stands, although it counts on',
    instruments: of('loop', LOOP, HELD),
  },
  'pilot-source-weak': {
    text: 'the pilot source gives a fifth less',
    built: piloted(({ sourceVrms }) => ({ sourceVrms: sourceVrms * LOW })),
  },
  'plug-voltmeter-off': {
    text: 'the voltmeters of the plug read a fifth too little',
    instruments: of('meter', PLUG, { gain: LOW }),
  },
  'cable-sensor-off': {
    text: 'the temperature sensor of the cable reads a fifth too little',
    instruments: of('meter', ['cableC'], { gain: LOW }),
  },
  'cable-sensor-missing': {
    text: 'what the temperature sensor of the cable reads stands',
    instruments: of('meter', ['cableC'], HELD),
  },
  'supply-meter-missing': {
    text: 'what is read of the supply stands',
    instruments: of('supply', ['frequencyHz', 'voltageV', 'ready', 'breakerClosed'], HELD),
  },
  'bleeder-weak': { text: 'the output bleeder has twice its resistance', built: bled(LATE) },
  'bleeder-missing': {
    text: 'the output bleeder is open inside',
    inject: [{ fault: 'bleeder-dead', phase: 'start', part: 'output' }],
  },
  'plug-bleeder-missing': {
    text: 'the plug bleeder is open inside',
    inject: [{ fault: 'bleeder-dead', phase: 'start', part: 'plug' }],
  },
  'voltage-loop-slow': {
    text: 'the voltage loop of the converter takes three times its time',
    built: (rig) => ({
      ...rig,
      converter: { ...rig.converter, currentLoopMs: 3 * rig.converter.currentLoopMs },
    }),
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
  'isolation-injection-off': {
    text: 'the injection resistors of the isolation device have a fifth less than stated',
    built: (rig) => ({
      ...rig,
      isolation: { ...rig.isolation, injectionOhm: rig.isolation.injectionOhm * LOW },
    }),
  },
  'isolation-monitor-missing': {
    text: 'what the isolation device reads stands, although it counts on',
    instruments: of('isolation', ['positiveV', 'negativeV'], HELD),
  },
  'precharge-resistor-half': {
    text: 'the pre-charge resistor has half of what is stated',
    built: (rig) =>
      rig.precharge === undefined
        ? rig
        : { ...rig, precharge: { ...rig.precharge, resistorOhm: rig.precharge.resistorOhm / 2 } },
  },
};

/** How a bench is to be built for this charger. */
export function provingOf(charger: Charger, rig: Rig): Proving {
  return {
    relays: charger.relays ?? {},
    unmarked: (charger.inject ?? []).map(({ fault }) => fault),
    ...(charger.instruments ? { instruments: charger.instruments } : {}),
    ...(charger.forgetsLatch ? { forgetsLatch: true } : {}),
    ...(charger.built ? { built: charger.built(rig) } : {}),
    ...(charger.watchdogLate ? { watchdogLate: charger.watchdogLate } : {}),
  };
}
