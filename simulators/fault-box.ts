/**
 * The far end of a fault box: makes faults in the simulated world when told to, in the words of
 * config/procedures/FAULT-BOX.md. A real box has relays instead of a world.
 */
import { FAULTS, type FaultName } from './faults.js';
import type { World } from './world.js';

const NAME = /^[a-z][a-z0-9-]{0,39}$/;
const PART = /^[a-z0-9][a-z0-9:-]{0,39}$/;

/** @returns the answer to one line */
export function answerOfBox(line: string, world: World): string {
  const [verb, name = '', magnitude, part, ...more] = line.trim().split(' ');
  if (verb === 'box?' && name === '') return 'box 1 lw-sim 0001';
  if (verb === 'clear' && name === '') {
    world.clearFaults();
    return 'cleared';
  }
  if (verb !== 'make' || more.length > 0) return 'cannot unknown-order';
  if (!NAME.test(name) || !Object.hasOwn(FAULTS, name)) return 'cannot unknown-fault';
  const size = magnitude === undefined || magnitude === '-' ? undefined : Number(magnitude);
  if (size !== undefined && !Number.isFinite(size)) return 'cannot bad-magnitude';
  if (part !== undefined && !PART.test(part)) return 'cannot bad-part';
  world.inject({ fault: name as FaultName, magnitude: size, part });
  return `made ${name}`;
}
