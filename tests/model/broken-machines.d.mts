import type { InvariantId } from '../../machines/invariant-list.js';
import type { SessionMachine } from '../../machines/session.js';

export interface BrokenMachine {
  readonly name: string;
  /** The invariant it is meant for. */
  readonly breaks: InvariantId;
  readonly also: readonly InvariantId[];
  readonly machine: SessionMachine;
}
export function brokenMachines(machine: SessionMachine): readonly BrokenMachine[];
