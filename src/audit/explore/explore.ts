/**
 * Walks a machine exhaustively: every reachable state, flags and memory of what was proven and ordered, by every
 * event of the vocabulary, also those that are not permitted. The invariants are asked on every edge. Breadth
 * first, so the way to a violation is a shortest one. Finite by construction; bounded all the same.
 */

import type { InvariantId } from '../../../machines/invariant-list.js';
import { brokenOnMachine, type Memory, NOTHING_YET, remember } from '../../../machines/invariants.js';
import type { TimerId } from '../../../machines/vocabulary.js';
import type { MachineSnapshot } from '../../supervisor/decide.js';
import { EVENTS, type EventType, keyOf, type Move, type Subject, stateOf } from './subject.js';

/** One state of machine, memory and running timers, and how it was reached first. */
export interface Node {
  readonly key: string;
  readonly machineKey: string;
  readonly state: string;
  readonly snapshot: MachineSnapshot;
  readonly memory: Memory;
  /** Timers started and not cancelled; sorted. */
  readonly timers: readonly TimerId[];
  readonly parent: Node | null;
  readonly event: EventType | null;
  readonly edges: Map<EventType, Edge>;
}

export interface Edge {
  readonly move: Move;
  readonly to: Node;
}

export interface Violation {
  readonly id: InvariantId;
  readonly why: string;
  /** Where it is broken. */
  readonly at: string;
  /** Events from the beginning, the breaking one included. */
  readonly path: readonly string[];
}

export interface Exploration {
  readonly nodes: readonly Node[];
  /** States of the machine itself: value and flags. */
  readonly machineStates: ReadonlySet<string>;
  readonly taken: number;
  /** Events that are not permitted where they came, and did nothing. */
  readonly refused: number;
  /** The first, that is a shortest, violation of each invariant and place. */
  readonly violations: readonly Violation[];
  readonly transitions: ReadonlySet<unknown>;
}

const MAX_NODES = 200_000;
/** More than this of one kind tells nothing new. */
const MAX_VIOLATIONS = 200;

export function pathTo(node: Node): string[] {
  const path: string[] = [];
  for (let n: Node | null = node; n !== null; n = n.parent) {
    const { path: way, latched } = n.snapshot.context;
    path.unshift(n.event ?? `begin on the ${way} path${latched ? ', latched' : ''}`);
  }
  return path;
}

const timersAfter = (
  timers: readonly TimerId[],
  { started, cancelled }: Move,
  event: EventType,
): TimerId[] => {
  const left = timers.filter((t) => !cancelled.includes(t) && event !== `elapsed.${t}`);
  return [...new Set([...left, ...started])].sort();
};

export function explore(subject: Subject): Exploration {
  const known = new Map<string, Node>();
  const queue: Node[] = [];
  const violations = new Map<string, Violation>();
  const transitions = new Set<unknown>();
  let taken = 0;
  let refused = 0;

  const visit = (
    snapshot: MachineSnapshot,
    machineKey: string,
    memory: Memory,
    timers: readonly TimerId[],
    parent: Node | null,
    event: EventType | null,
  ): Node => {
    const key = `${machineKey} ${Object.values(memory).map(Number).join('')} ${timers.join(',')}`;
    const old = known.get(key);
    if (old !== undefined) return old;
    if (known.size >= MAX_NODES) throw new Error('the machine is not finite');
    const state = stateOf(snapshot);
    const node = { key, machineKey, state, snapshot, memory, timers, parent, event, edges: new Map() };
    known.set(key, node);
    queue.push(node);
    return node;
  };

  for (const s of subject.beginnings()) visit(s, keyOf(s), NOTHING_YET, [], null, null);
  for (let at = 0; at < queue.length; at++) {
    const from = queue[at]!;
    for (const event of EVENTS) {
      const move = subject.move(from.snapshot, from.machineKey, event);
      for (const { id, why } of brokenOnMachine(from.memory, move.step)) {
        const place = `${id} ${from.state} ${event}`;
        if (violations.has(place) || violations.size >= MAX_VIOLATIONS) continue;
        violations.set(place, { id, why, at: from.state, path: [...pathTo(from), event] });
      }
      if (!move.step.taken) {
        refused++;
        continue;
      }
      taken++;
      for (const t of move.transitions) transitions.add(t);
      const memory = remember(from.memory, move.step);
      const to = visit(move.snapshot, move.key, memory, timersAfter(from.timers, move, event), from, event);
      from.edges.set(event, { move, to });
    }
  }
  return {
    nodes: queue,
    machineStates: new Set(queue.map((n) => n.machineKey)),
    taken,
    refused,
    violations: [...violations.values()],
    transitions,
  };
}
