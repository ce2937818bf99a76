/**
 * Draws a session: a rig within the schema, a state to start from, up to four faults, orders by people (also unsafe
 * and repeated ones) and trouble on the line. The same seed and number always give the same session.
 */
import {
  FAULT_NAMES,
  FAULTS,
  type FaultDefinition,
  type FaultName,
  type Injection,
} from '../../simulators/faults.js';
import type { Scenario } from '../../simulators/scenario.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { figureAt } from '../rig/figure-at.js';
import { PHASES, type Phase } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { StormCase } from './case.js';
import { shipped, variantOrNull } from './rigs.js';

type Weighted<T> = readonly (readonly [T, number])[];
const BASES: Weighted<string> = [
  ['depot-cable', 0.4],
  ['terminus-shoes', 0.2],
  ['yard-precharge', 0.15],
  ['depot-split', 0.15],
  ['yard-generator', 0.1],
];
const FIRSTS: Weighted<StormCase['first']> = [
  ['start', 0.94],
  ['acknowledge', 0.03],
  ['free-plug', 0.03],
];
const FAULT_COUNTS: Weighted<number> = [
  [0, 0.1],
  [1, 0.45],
  [2, 0.25],
  [3, 0.12],
  [4, 0.08],
];
const ORDER_COUNTS: Weighted<number> = [
  [0, 0.5],
  [1, 0.25],
  [2, 0.15],
  [3, 0.1],
];
/** Figures that may differ, and by which factor at most. */
const SPREAD: Readonly<Record<string, number>> = {
  'ramp.upAPerS': 2,
  'ramp.downAPerS': 1.5,
  'connection.ratedCurrentA': 1.3,
  'converter.maxPowerW': 1.3,
  'converter.capacitanceF': 1.5,
  'supply.slopeKwPerS': 2,
  'supply.maxPowerW': 1.5,
  'pilot.coreOhm': 1.5,
  'connection.contact.thermalResistanceKPerW': 3,
  'connection.contact.thermalTimeConstantS': 6,
  'isolation.network.chargerOhm': 3,
  'bleeder.outputOhm': 1.3,
  'contactors.closeMs': 1.3,
  'contactors.openMs': 1.3,
  'battery.raft.cell.r0Ohm': 1.5,
  'battery.raft.cell.capacityAh': 1.5,
  'link.silenceMs': 1.5,
  'link.answerMs': 1.5,
};
/** Faults come while something goes on. */
const BUSY: readonly Phase[] = PHASES.slice(PHASES.indexOf('securing'), PHASES.indexOf('released'));
const ORDERS = ['start', 'stop', 'trip-now', 'acknowledge', 'free-plug', 'limit-current'] as const;
const CURRENTS: readonly number[] = [-5, 0, 1, 20, 60, 120, 250, 1000, 20_000];
const SENSED = [
  'meter',
  'converter',
  'loop',
  'isolation',
  'contactor',
  'latch',
  'berth',
  'train',
  'supply',
  'stop',
];

export function drawCase(stormSeed: number, index: number): StormCase {
  const random = new SeededRandom(stormSeed).fork(`session ${index}`);
  const base = pick(random, BASES);
  const { rig } = shipped(base);
  const first = pick(random, FIRSTS);
  return {
    base,
    set: drawSet(random.fork('rig'), base, rig),
    first,
    seed: random.uint32(),
    start: drawStart(random.fork('start'), rig, first),
    wish: drawWish(random.fork('wish')),
    inject: drawFaults(random, rig, first),
    orders: times(pick(random, ORDER_COUNTS), (k) => drawOrder(random.fork(`order ${k}`))),
  };
}

const times = <T>(count: number, make: (k: number) => T): T[] =>
  Array.from({ length: count }, (_, k) => make(k));
const chance = (random: SeededRandom, share: number): boolean => random.between(0, 1) < share;
const round = (x: number): number => Number(x.toPrecision(4));
/** Between 1/factor and factor, as often above as below. */
const factor = (random: SeededRandom, most: number): number =>
  Math.exp(random.between(-1, 1) * Math.log(most));
const oneOf = <T>(random: SeededRandom, from: readonly T[]): T => from[random.uint32() % from.length] as T;

/** Without a bench's relays there is nothing to test one with. */
const DRAWN = FAULT_NAMES.filter((name) => name !== 'relay-test-voltage');

function pick<T>(random: SeededRandom, from: Weighted<T>): T {
  let left = random.between(0, 1);
  for (const [value, weight] of from) {
    left -= weight;
    if (left < 0) return value;
  }
  return (from.at(-1) as readonly [T, number])[0];
}

/** Half of the rigs are as shipped; in the rest each figure differs with one chance in three. */
function drawSet(random: SeededRandom, base: string, rig: Rig): Record<string, number> {
  let set: Record<string, number> = {};
  if (chance(random, 0.5)) return set;
  for (const [at, most] of Object.entries(SPREAD)) {
    const figure = figureAt(rig, at);
    const drawn = figure * factor(random, most);
    if (!chance(random, 0.33) || Number.isNaN(figure)) continue;
    const more = { ...set, [at]: Number.isInteger(figure) ? Math.max(1, Math.round(drawn)) : round(drawn) };
    // A figure the loader refuses beside the others is left as it was.
    if (variantOrNull(base, more) !== null) set = more;
  }
  return set;
}

function drawStart(random: SeededRandom, rig: Rig, first: StormCase['first']): Scenario['start'] {
  const start: Scenario['start'] = {
    soc: round(random.between(0.3, 0.92)),
    cellC: round(chance(random, 0.8) ? random.between(12, 32) : random.between(-12, 48)),
    ambientC: round(random.between(-10, 38)),
  };
  if (chance(random, 0.2))
    start.rafts = rig.battery.rafts.map(() => ({
      soc: round((start.soc ?? 0.5) + random.between(-0.15, 0.08)),
      spreadV: round(random.between(0.002, 0.06)),
    }));
  if (chance(random, 0.02)) start.latched = true;
  if (chance(random, 0.1)) start.generatorRunning = true;
  if (chance(random, first === 'free-plug' ? 0.6 : 0.1)) start.plugLocked = true;
  return start;
}

function drawWish(random: SeededRandom): Scenario['wish'] {
  const wish: Scenario['wish'] = { maxS: round(random.between(8, 40)) };
  if (chance(random, 0.8)) wish.targetEnergyKwh = round(random.between(0.01, 0.4));
  else wish.targetSoc = round(random.between(0.5, chance(random, 0.2) ? 1 : 0.9));
  if (chance(random, 0.15)) wish.maxCurrentA = round(random.between(2, 400));
  return wish;
}

/** Whoever frees a plug meets a bolt that will not move more often than chance among all faults would have it. */
function drawFaults(random: SeededRandom, rig: Rig, first: StormCase['first']): Injection[] {
  const drawn = times(pick(random, FAULT_COUNTS), (k) => drawFault(random.fork(`fault ${k}`), rig));
  if (first === 'free-plug' && drawn.length > 0 && chance(random, 0.15))
    drawn[0] = { fault: 'latch-stuck', phase: 'start', afterS: 0 };
  return drawn;
}

function drawFault(random: SeededRandom, rig: Rig): Injection {
  const fault = oneOf(random, DRAWN);
  const definition: FaultDefinition = FAULTS[fault];
  const phase = chance(random, 0.12) ? 'start' : oneOf(random, BUSY);
  const part = partOf(random, fault, definition, rig);
  return {
    fault,
    phase,
    // Half of those from the start are there before anything is said.
    afterS:
      phase === 'start' && chance(random, 0.5) ? 0 : round(random.between(0, chance(random, 0.7) ? 0.6 : 4)),
    ...(definition.unit === '' ? {} : { magnitude: round(definition.magnitude * factor(random, 2.5)) }),
    ...(part === undefined ? {} : { part }),
    ...(chance(random, 0.3) ? { durationS: round(random.between(0.05, 3)) } : {}),
  };
}

function partOf(
  random: SeededRandom,
  fault: FaultName,
  { part }: FaultDefinition,
  rig: Rig,
): string | undefined {
  if (fault === 'port-lost') return oneOf(random, rig.link.ports).name;
  if (fault === 'sensor-frozen' || fault === 'sensor-reads-nothing')
    return chance(random, 0.8)
      ? oneOf(random, SENSED)
      : `raft${1 + (random.uint32() % rig.battery.rafts.length)}`;
  if (part === 'p' || part === 'n') return oneOf(random, ['p', 'n']);
  if (part === 'both') return oneOf(random, ['p', 'n', 'both']);
  if (part === 'raft1') return `raft${1 + (random.uint32() % rig.battery.rafts.length)}`;
  if (fault === 'bleeder-dead') return oneOf(random, ['plug', 'output', 'both']);
  if (fault === 'isolation-one-pole')
    return oneOf(random, ['charger-p', 'charger-n', 'cable-p', 'cable-n', 'train-p', 'train-n']);
  if (fault === 'isolation-both-poles' || fault === 'stored-charge')
    return oneOf(random, ['charger', 'cable', 'train']);
  return undefined;
}

function drawOrder(random: SeededRandom): Scenario['orders'][number] {
  const order = oneOf(random, ORDERS);
  const drawn = {
    order,
    // Also after the end: an order may come at any time.
    phase: oneOf(random, PHASES.slice(PHASES.indexOf('securing'))),
    afterS: round(random.between(0, 1.5)),
  };
  return order === 'limit-current' ? { ...drawn, currentA: oneOf(random, CURRENTS) } : drawn;
}
