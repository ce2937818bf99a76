/** Walks the machine: every reachable state by every event. Finite by construction; bounded all the same. */
import { EVENT_TYPES, type SessionEvent } from '../../machines/vocabulary.js';
import { begin, type Decision, decide, type MachineSnapshot } from '../../src/supervisor/decide.js';

export interface Edge {
  readonly from: MachineSnapshot;
  readonly event: SessionEvent;
  readonly decision: Decision;
}

const MAX_STATES = 10_000;
export const keyOf = (s: MachineSnapshot): string => JSON.stringify([s.value, s.context]);

export function walk(path: 'match' | 'pre-charge'): {
  readonly states: Map<string, MachineSnapshot>;
  readonly edges: Edge[];
} {
  const states = new Map<string, MachineSnapshot>();
  const edges: Edge[] = [];
  const queue = [begin({ path, latched: false }).snapshot, begin({ path, latched: true }).snapshot];
  for (const s of queue) states.set(keyOf(s), s);
  for (let from = queue.shift(); from !== undefined; from = queue.shift()) {
    for (const type of EVENT_TYPES) {
      const event: SessionEvent = { type };
      if (!from.can(event)) continue;
      const decision = decide(from, event);
      edges.push({ from, event, decision });
      const key = keyOf(decision.snapshot);
      if (states.has(key)) continue;
      if (states.size >= MAX_STATES) throw new Error('the machine is not finite');
      states.set(key, decision.snapshot);
      queue.push(decision.snapshot);
    }
  }
  return { states, edges };
}

export const commandsOf = (d: Decision): string[] =>
  d.emissions.flatMap((e) => (e.kind === 'command' ? [e.command] : []));
