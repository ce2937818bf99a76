/** One machine explored from end to end: what was counted, what was never met, and every invariant broken. */
import type { InvariantId } from '../../../machines/invariant-list.js';
import { type SessionMachine, sessionMachine } from '../../../machines/session.js';
import { type Unmet, unmet } from './coverage.js';
import { type Ends, ends } from './ends.js';
import { explore, type Violation } from './explore.js';
import { EVENTS, Subject } from './subject.js';

export interface ExplorationReport {
  readonly events: number;
  /** State value and flags. */
  readonly machineStates: number;
  /** With the memory of what was proven and ordered, and the timers that run. */
  readonly states: number;
  readonly edges: number;
  readonly refused: number;
  readonly bound: Ends['bound'];
  readonly unmet: Unmet;
  /** Shortest way to each first. */
  readonly violations: readonly Violation[];
  readonly broken: readonly InvariantId[];
}

export function exploreAll(machine: SessionMachine = sessionMachine): ExplorationReport {
  const met = explore(new Subject(machine));
  const { bound, violations } = ends(met);
  const all = [...met.violations, ...violations].sort((a, b) => a.path.length - b.path.length);
  return {
    events: EVENTS.length,
    machineStates: met.machineStates.size,
    states: met.nodes.length,
    edges: met.taken,
    refused: met.refused,
    bound,
    unmet: unmet(machine, met),
    violations: all,
    broken: [...new Set(all.map((v) => v.id))].sort(),
  };
}
