/**
 * I10 on the whole graph: from every state, stop, emergency stop and silence lead to an end, whatever the world
 * answers, within a number of steps that is worked out here. No dead end: wherever something is under way after
 * such an order, a timer runs whose end leads on, so nobody needs to answer for it to go on.
 */
import { isEnd } from '../../../machines/invariants.js';
import { FINDING_EVENTS, PROOF_EVENTS } from '../../../machines/vocabulary.js';
import { type Exploration, type Node, pathTo, type Violation } from './explore.js';
import type { EventType } from './subject.js';

/** What a person or the world does to end it, and what may come after that. */
export const WAYS = {
  /** A normal stop; then any proofs, any trips, and the timers that run. */
  stop: { event: 'stop', answers: [...PROOF_EVENTS, ...FINDING_EVENTS] },
  /** The stop chain is read open: a trip-0; then any proofs and trips, and the timers that run. */
  'emergency stop': { event: 'trip-0', answers: [...PROOF_EVENTS, ...FINDING_EVENTS] },
  /** Nothing is heard any more: a trip-0 by the silence deadline; then timers alone. */
  silence: { event: 'trip-0', answers: [] },
} as const satisfies Record<string, { event: EventType; answers: readonly EventType[] }>;
export type Way = keyof typeof WAYS;

/**
 * The stated bound, in steps, the order itself included. After a stop the longest way is that from holding: ramp-down,
 * opening with its three proofs and its timer, parting, bleeding, freeing; or a trip anywhere on it.
 */
export const STATED_BOUND: Readonly<Record<Way, number>> = { stop: 9, 'emergency stop': 2, silence: 2 };

export interface Ends {
  /** Most steps from any state to an end, the order itself included. */
  readonly bound: Readonly<Record<Way, number>>;
  readonly violations: readonly Violation[];
}

/** Longest way to an end; Infinity where it may never come. */
class Longest {
  readonly #known = new Map<Node, number>();
  readonly #open = new Set<Node>();
  /** Where it first went wrong, and how. */
  wrong: { readonly node: Node; readonly why: string } | null = null;

  constructor(private readonly answers: readonly EventType[]) {}

  from(node: Node): number {
    if (isEnd(node.state)) return 0;
    const known = this.#known.get(node);
    if (known !== undefined) return known;
    if (this.#open.has(node)) return this.#fail(node, 'goes round without end');
    const timed = node.timers.map((t): EventType => `elapsed.${t}`);
    if (!timed.some((event) => node.edges.has(event)))
      return this.#fail(node, 'waits, and no timer runs that would lead on');
    this.#open.add(node);
    let longest = 0;
    for (const event of [...this.answers, ...timed]) {
      const to = node.edges.get(event)?.to;
      // What changes nothing is no step.
      if (to !== undefined && to !== node) longest = Math.max(longest, 1 + this.from(to));
    }
    this.#open.delete(node);
    this.#known.set(node, longest);
    return longest;
  }

  #fail(node: Node, why: string): number {
    this.wrong ??= { node, why };
    return Number.POSITIVE_INFINITY;
  }
}

export function ends({ nodes }: Exploration): Ends {
  const violations: Violation[] = [];
  const bound = {} as Record<Way, number>;
  for (const way of Object.keys(WAYS) as Way[]) {
    const { event, answers } = WAYS[way];
    const longest = new Longest(answers);
    bound[way] = 0;
    let furthest: Node | null = null;
    for (const node of nodes) {
      if (isEnd(node.state)) continue;
      // Where the order is not taken, the session must be on its way down already.
      const to = node.edges.get(event)?.to;
      const steps = to === undefined ? longest.from(node) : 1 + longest.from(to);
      if (steps > bound[way]) furthest = node;
      bound[way] = Math.max(bound[way], steps);
    }
    const { wrong } = longest;
    if (wrong === null && furthest !== null && bound[way] > STATED_BOUND[way]) {
      const why = `${way}: ends after ${bound[way]} steps, ${STATED_BOUND[way]} are stated`;
      violations.push({ id: 'I10', why, at: furthest.state, path: pathTo(furthest) });
    }
    if (wrong !== null)
      violations.push({
        id: 'I10',
        why: `${way}: ${wrong.why}`,
        at: wrong.node.state,
        path: pathTo(wrong.node),
      });
  }
  return { bound, violations };
}
