/** What of a machine's definition an exploration never met: states never stood in, transitions never taken. */
import type { SessionMachine } from '../../../machines/session.js';
import type { Exploration } from './explore.js';

interface Definition {
  readonly path: readonly string[];
  readonly states: Readonly<Record<string, Definition>>;
  readonly transitions: ReadonlyMap<string, readonly unknown[]>;
}

function visit(node: Definition, seen: (node: Definition) => void): void {
  seen(node);
  for (const child of Object.values(node.states)) visit(child, seen);
}

const rootOf = (machine: SessionMachine): Definition => machine.root as unknown as Definition;

/** Every state that can be stood in, by its path. */
export function stateKeys(machine: SessionMachine): string[] {
  const keys: string[] = [];
  visit(rootOf(machine), (node) => {
    if (Object.keys(node.states).length === 0) keys.push(node.path.join('.'));
  });
  return keys;
}

export interface Unmet {
  readonly states: readonly string[];
  readonly transitions: readonly string[];
  /** All that the definition has. */
  readonly of: { readonly states: number; readonly transitions: number };
}

export function unmet(machine: SessionMachine, met: Exploration): Unmet {
  const stood = new Set(met.nodes.map((n) => n.state));
  const keys = stateKeys(machine);
  const transitions: string[] = [];
  let count = 0;
  visit(rootOf(machine), (node) => {
    for (const [event, candidates] of node.transitions) {
      for (const [i, candidate] of candidates.entries()) {
        count++;
        if (!met.transitions.has(candidate)) transitions.push(`${node.path.join('.')}: ${event} (${i + 1})`);
      }
    }
  });
  return {
    states: keys.filter((k) => !stood.has(k)),
    transitions,
    of: { states: keys.length, transitions: count },
  };
}
