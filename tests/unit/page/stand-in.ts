/** A charger as the page is told of it, for tests of what the page makes of it. */
import type {
  About,
  Control,
  Me,
  ProofState,
  Snapshot,
  Statement,
} from '../../../src/page/client/contract.js';

export const ABOUT: About = {
  caution: ['Live DC kills.'],
  software: 'test',
  rig: {
    name: 'rig',
    title: 'A rig',
    connection: 'cable',
    ratedCurrentA: 300,
    ceilingSoc: 0.9,
    rafts: [
      { name: 'fore', kind: 'battery' },
      { name: 'aft', kind: 'battery' },
    ],
    matchesVoltage: true,
    safeV: 60,
  },
  simulated: true,
  acknowledgeFrom: 'charger',
  phases: [
    { phase: 'parked', text: 'parked' },
    { phase: 'checking-isolation', text: 'checking the isolation' },
  ],
  chain: [
    { proof: 'secured', phase: 'securing', text: 'train held', codes: [] },
    { proof: 'isolation-dead', phase: 'checking-isolation', text: 'both sides isolated', codes: [] },
    { proof: 'closed-p', phase: 'closing', text: 'pole P closed', codes: [] },
  ],
  codes: { 'isolation-low': { effect: 'trip-0', text: 'isolation is too low', remedy: 'find the leak' } },
  faults: [],
  exercises: [],
  speeds: [1],
};

type Values = Record<string, number | null>;
export const reading = (values: Values, stale = false, ageMs = 40) => ({ ageMs, stale, values });

/** Every voltmeter, all of them at rest. */
export const DEAD: Values = {
  outputV: 1,
  outputPositiveV: 0.5,
  outputNegativeV: -0.5,
  plugV: 2,
  plugPositiveV: 1,
  plugNegativeV: -1,
  currentA: 0,
};

export const statement = (over: Partial<Statement> = {}): Statement => ({
  code: 'isolation-low',
  part: null,
  failing: true,
  reading: 20_100,
  limit: 81_000,
  unit: 'ohm',
  setting: 'isolation.minOhmPerVolt',
  ...over,
});

export const proof = (
  name: string,
  state: ProofState['state'],
  statements: Statement[] = [],
): ProofState => ({
  proof: name,
  state,
  ageMs: state === 'later' ? null : 100,
  statements,
});

export const CONTROL: Control = {
  holder: 'Ada',
  offeredTo: null,
  people: [
    { name: 'Ada', role: 'engineer', watching: true },
    { name: 'Ben', role: 'operator', watching: true },
    { name: 'Cleo', role: 'watcher', watching: true },
  ],
};

export const snapshot = (over: Partial<Snapshot> = {}): Snapshot => ({
  n: 1,
  atMs: 0,
  sessionMs: null,
  phase: 'parked',
  phaseS: 0,
  running: null,
  by: null,
  tripped: false,
  latch: null,
  ended: null,
  readings: { meter: reading(DEAD), train: reading({ trainV: 0, closedP: 0, closedN: 0 }) },
  setpointA: null,
  leastA: null,
  binding: '',
  limits: [],
  energyToBatteryKwh: null,
  proofs: [],
  findings: [],
  control: CONTROL,
  bench: null,
  ...over,
});

export const person = (name: string, role: Me['role'], remote = false): Me => ({
  name,
  role,
  inControl: name === CONTROL.holder,
  remote,
  untilMs: 0,
});
