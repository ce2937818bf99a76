/**
 * Faults as people ask for them by hand: held against the table of faults and against the rig, because a fault that
 * names a part which is not there, or does nothing on this rig, would teach the wrong thing.
 */
import { FAULT_NAMES, FAULTS, type FaultDefinition, type FaultName } from '../../simulators/faults.js';
import { InputError } from '../host/input-error.js';
import { servedRoles } from '../link/frames.js';
import { PHASES, type Phase, ROLES, type Role } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { BenchFault } from '../supervisor/stand.js';

/** With everything filled in that the table fills in. */
export interface AskedFault {
  readonly fault: FaultName;
  readonly magnitude: number;
  readonly part: string;
  readonly phase: Phase | null;
  readonly afterS: number;
  readonly durationS: number | undefined;
}

const POLES = ['p', 'n'];
const SIDES = ['charger', 'cable', 'train'];
const LONGEST_S = 36_000;

/** By the unit of the magnitude; what is not here must be above zero. */
const RANGE: Readonly<Record<string, readonly [least: number, most: number]>> = {
  share: [0, 1],
  percent: [0, 100],
  degC: [-40, 90],
};
const MOST = 1e9;

/** Why a fault does nothing on this rig; null when it does something. */
function whyNot(fault: FaultName, rig: Rig): string | null {
  if (rig.pilot === undefined && (fault.startsWith('loop-') || fault === 'pilot-dead'))
    return 'this rig has no pilot loop';
  if (rig.precharge === undefined && fault.startsWith('precharge-')) return 'this rig has no pre-charge';
  const { kind } = rig.connection;
  if (kind !== 'shoes' && (fault.startsWith('shoe-') || fault === 'plate-exposed'))
    return 'this rig has no shoes';
  if (kind !== 'cable' && fault === 'plug-pulled') return 'this rig has no plug';
  if (fault === 'generator-running' && !rig.battery.rafts.some((raft) => raft.kind === 'generator'))
    return 'this rig has no generator raft';
  if (fault === 'relay-test-voltage') return 'hard-wired relays stand only on a bench that proves a charger';
  return null;
}

/** The parts a fault may name; null where it has none. A role may be followed by `:field`. */
function partsOf(fault: FaultName, rig: Rig): readonly string[] | null {
  const rafts = rig.battery.rafts.map((_, i) => `raft${i + 1}`);
  switch (fault) {
    case 'isolation-one-pole':
      return SIDES.flatMap((side) => POLES.map((pole) => `${side}-${pole}`));
    case 'isolation-both-poles':
    case 'stored-charge':
      return SIDES;
    case 'contactor-weld':
    case 'contactor-weld-at-rest':
    case 'contactor-wont-close':
    case 'aux-says-closed':
    case 'aux-says-open':
      return rig.precharge === undefined ? POLES : [...POLES, 'pre'];
    case 'train-contactor-weld':
    case 'train-wont-close':
    case 'train-aux-says-open':
      return [...POLES, 'both'];
    case 'sensor-frozen':
    case 'sensor-reads-nothing':
      return rig.link.ports.flatMap((port) => servedRoles(port.roles, rafts.length));
    case 'meter-gain':
      return ['current', 'voltage'];
    case 'voltmeter-dead':
      return ['output', 'plug', 'all'];
    case 'bleeder-dead':
      return ['output', 'plug', 'both'];
    case 'port-lost':
      return rig.link.ports.map((port) => port.name);
    case 'raft-silent':
      return rafts;
    default: {
      const { part }: FaultDefinition = FAULTS[fault];
      if (part === undefined) return null;
      return part === 'p' ? POLES : [...rafts, 'all'];
    }
  }
}

const isFault = (name: string): name is FaultName => Object.hasOwn(FAULTS, name);

/** The faults that do something on this rig. */
export const faultsOf = (rig: Rig): FaultName[] => FAULT_NAMES.filter((fault) => whyNot(fault, rig) === null);

function checkPart(fault: FaultName, asked: string | undefined, rig: Rig): string {
  const known = partsOf(fault, rig);
  const { part: usual }: FaultDefinition = FAULTS[fault];
  if (known === null) {
    if (asked === undefined) return '';
    throw new InputError(`fault ${fault} has no parts, but ${asked} is named; leave the part out`);
  }
  // What the table takes by itself may not be there on this rig.
  const part = asked ?? (usual !== undefined && known.includes(usual) ? usual : (known[0] ?? ''));
  if (known.includes(part)) return part;
  const perField = fault.startsWith('sensor-');
  const [role = '', field] = part.split(':');
  if (perField && known.includes(role)) {
    const name: Role = role.startsWith('raft') ? 'raft' : (role as Role);
    const fields = ROLES[name].fields.map((f) => f.name as string).filter((f) => f !== 'sample');
    if (field !== undefined && fields.includes(field)) return part;
    throw new InputError(
      `fault ${fault}: ${role} has no field ${field ?? ''}; known fields: ${fields.join(', ')}`,
    );
  }
  const more = perField ? '; one field only: role:field' : '';
  throw new InputError(
    `fault ${fault}: there is no part ${part} on ${rig.name}; known parts: ${known.join(', ')}${more}`,
  );
}

function checkMagnitude(fault: FaultName, asked: number | undefined): number {
  const { unit, magnitude: usual }: FaultDefinition = FAULTS[fault];
  if (asked === undefined) return usual;
  // One without a unit is there or not; the two levels of an alarm are the exception.
  const [least, most] =
    fault === 'raft-alarm' ? [1, 2] : unit === '' ? [usual, usual] : (RANGE[unit] ?? [0, MOST]);
  const isPositive = RANGE[unit] !== undefined || asked > 0;
  if (asked >= least && asked <= most && isPositive) return asked;
  if (unit === '' && least === most)
    throw new InputError(`fault ${fault} has no magnitude, but ${asked} is given; leave it out`);
  const expected = RANGE[unit] !== undefined || unit === '' ? `${least} to ${most}` : 'a number above 0';
  const withUnit = unit === '' ? '' : ` ${unit}`;
  throw new InputError(
    `fault ${fault}: found a magnitude of ${asked}${withUnit}, expected ${expected}${withUnit}`,
  );
}

function checkSeconds(fault: FaultName, key: string, s: number | undefined): void {
  if (s !== undefined && !(s >= 0 && s <= LONGEST_S))
    throw new InputError(`fault ${fault}: found ${key} ${s}, expected 0 to ${LONGEST_S} seconds`);
}

/** @throws InputError naming what is wrong with it and what is known */
export function checkFault(asked: BenchFault, rig: Rig): AskedFault {
  const { fault, phase, afterS, durationS } = asked;
  if (!isFault(fault))
    throw new InputError(`there is no fault ${fault}; known faults: ${faultsOf(rig).join(', ')}`);
  const why = whyNot(fault, rig);
  if (why !== null)
    throw new InputError(`fault ${fault} cannot be made: ${why}; known faults: ${faultsOf(rig).join(', ')}`);
  if (phase !== undefined && !PHASES.includes(phase))
    throw new InputError(`fault ${fault}: there is no phase ${phase}; known phases: ${PHASES.join(', ')}`);
  checkSeconds(fault, 'afterS', afterS);
  checkSeconds(fault, 'durationS', durationS);
  return {
    fault,
    magnitude: checkMagnitude(fault, asked.magnitude),
    part: checkPart(fault, asked.part, rig),
    phase: phase ?? null,
    afterS: afterS ?? 0,
    durationS,
  };
}
