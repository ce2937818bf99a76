/** May a person's order be carried out? Pure: everything that speaks against it, or nothing. */
import { CATALOGUE, type Code } from '../checks/catalogue.js';
import type { Finding, Proof, Wish } from '../checks/check.js';
import type { Rig } from '../rig/schema.js';
import { fixedLimits, leastLimit } from './governor.js';
import type { StartFault } from './handshake.js';
import type { Found } from './outcome.js';

export const PROVEN_DEAD: readonly Proof[] = ['open-p', 'open-n', 'output-dead', 'plug-dead'];
/**
 * In a session the train must be seen open as well. A trip may have come while it was joining, and a plug that is dead
 * behind closed contactors becomes live with the next raft; and a plug is freed only where that is seen at that moment,
 * not where it was seen a second ago by auxiliaries that cannot be read any more.
 */
export const PROVEN_SAFE: readonly Proof[] = [...PROVEN_DEAD, 'train-open'];

/** May-start: the latch, the handshake, the wish, and every standing finding that refuses a start. */
export function againstStart(
  rig: Rig,
  wish: Wish,
  faults: readonly StartFault[],
  standing: readonly Finding[],
): Found[] {
  const against: Found[] = [...faults];
  const { ceilingSoc } = rig.battery;
  if (wish.targetSoc > ceilingSoc) {
    against.push({
      code: 'above-limit',
      part: 'target state of charge',
      reading: wish.targetSoc,
      limit: ceilingSoc,
      setting: 'battery.ceilingSoc',
    });
  }
  if (wish.maxCurrentA < Number.POSITIVE_INFINITY || Number.isNaN(wish.maxCurrentA))
    against.push(...againstCurrentLimit(rig, wish.maxCurrentA, UNMEASURED_V));
  against.push(...standing.filter((f) => CATALOGUE[f.code].refusesStart));
  return against;
}

/** Where in the rig the limits of the governor come from. */
const SETTINGS: Readonly<Record<string, string>> = {
  'converter current': 'converter.maxCurrentA',
  'converter power': 'converter.maxPowerW',
  'connection rating': 'connection.ratedCurrentA',
  'supply power': 'supply.maxPowerW',
};
/** Before anything was measured only limits of current bind, none of power. */
const UNMEASURED_V = 1;

/** May this person's limit be set: within what the rig carries, and enough to go on charging with. */
export function againstCurrentLimit(rig: Rig, reading: number, volts: number): Found[] {
  const { endCurrentA } = rig.ramp;
  const most = leastLimit(fixedLimits(rig, volts));
  const unit = 'A';
  // Positive conditions: a figure that is not a number passes neither.
  if (!(reading >= endCurrentA))
    return [{ code: 'current-too-low', reading, limit: endCurrentA, unit, setting: 'ramp.endCurrentA' }];
  if (!(reading <= most.currentA)) {
    const setting = SETTINGS[most.limit] ?? most.limit;
    return [{ code: 'above-limit', part: most.limit, reading, limit: most.currentA, unit, setting }];
  }
  return [];
}

/** May-free: no latch anywhere, both poles proven open and both sides proven dead, now. */
export function againstFreeing(
  rig: Rig,
  standing: readonly Finding[],
  proofs: ReadonlySet<Proof | 'proven-dead'>,
  plugV: number,
  faults: readonly StartFault[],
): Found[] {
  const against: Found[] = [...faults, ...standing.filter((f) => f.code === 'device-latched')];
  if (!proofs.has('proven-dead')) {
    const missing = PROVEN_DEAD.filter((p) => !proofs.has(p));
    const held = { limit: rig.bleeder.safeV, unit: 'V', setting: 'bleeder.safeV' };
    against.push({
      code: 'not-proven-dead',
      part: `missing: ${missing.join(', ')}`,
      reading: Math.abs(plugV),
      ...held,
    });
  }
  return against;
}

/** Codes after which the device's own volts and auxiliaries are no proof: a person must have measured. */
const IN_DOUBT: readonly Code[] = [
  'voltmeter-unproven',
  'pole-welded',
  'pole-closed-at-rest',
  'pole-volts-differ',
  'train-contactor-welded',
  'output-not-dead',
  'plug-not-dead',
  'converter-wont-stop',
];

/** True when one of these codes, found in a session that was not proven dead, puts the readings in doubt. */
export const inDoubt = (found: readonly string[]): boolean =>
  found.some((code) => (IN_DOUBT as readonly string[]).includes(code));

/** May-acknowledge: the cause gone, and everything proven dead on fresh readings. */
export function againstAcknowledge(
  standing: readonly Finding[],
  proofs: ReadonlySet<Proof | 'proven-dead'>,
  measuredDead: boolean,
  faults: readonly StartFault[],
): Found[] {
  const against: Found[] = standing
    .filter((f) => {
      const { effect } = CATALOGUE[f.code];
      return effect === 'trip-0' || effect === 'trip-1';
    })
    .map((f) => ({
      ...f,
      code: 'cause-present',
      part: f.part === undefined ? f.code : `${f.code} (${f.part})`,
    }));
  if (!proofs.has('proven-dead')) {
    const missing = PROVEN_DEAD.filter((p) => !proofs.has(p));
    against.push({ code: 'not-proven-dead', part: `missing: ${missing.join(', ')}` });
  }
  const doubted = faults.find((f) => f.inDoubt === true);
  if (doubted !== undefined && !measuredDead)
    against.push({
      code: 'not-proven-dead',
      part: `${doubted.part}: readings alone do not prove it; measure by hand`,
    });
  return against;
}
