/**
 * The one wrapper of @xstate/test, which by itself passes when handlers or assertions are missing. Here a
 * handler for every event and an assertion for every state are demanded, states are told apart by value and
 * flags, and the walk has a bound.
 */
import { createTestModel } from '@xstate/test';
import { sessionMachine } from '../../machines/session.js';
import { EVENT_TYPES, type SessionEvent, type SessionFlags } from '../../machines/vocabulary.js';
import { stateKeys } from '../../src/audit/explore/coverage.js';
import { keyOf, stateOf } from '../../src/audit/explore/subject.js';
import { changes, type MachineSnapshot } from '../../src/supervisor/decide.js';

export interface Subject {
  readonly events: Readonly<Record<SessionEvent['type'], () => void>>;
  readonly states: Readonly<Record<string, (expected: MachineSnapshot) => void>>;
}

/** @throws when an event has no handler or a state no assertion: nothing is passed over in silence */
export function demandAll(
  events: Readonly<Record<string, unknown>>,
  states: Readonly<Record<string, unknown>>,
): void {
  const missing = [
    ...EVENT_TYPES.filter((t) => events[t] === undefined).map((t) => `event ${t}`),
    ...stateKeys(sessionMachine)
      .filter((k) => states[k] === undefined)
      .map((k) => `state ${k}`),
  ];
  if (missing.length > 0) throw new Error(`no handler or assertion for: ${missing.join(', ')}`);
}

const modelOf = (input?: Pick<SessionFlags, 'path' | 'latched'>) =>
  createTestModel(
    withoutActions(input) as never,
    {
      events: EVENT_TYPES.map((type) => ({ type })) as never,
      serializeState: keyOf as never,
      limit: 5000,
    } as never,
  );

/** One event that does something in one state of the machine, flags included. */
export interface MachineEdge {
  readonly from: MachineSnapshot;
  readonly event: SessionEvent['type'];
  readonly to: MachineSnapshot;
}

/** Every edge of the machine, from every way it can begin, each once. */
export function everyEdge(beginnings: readonly MachineSnapshot[]): MachineEdge[] {
  const edges = new Map<string, MachineEdge>();
  for (const { context } of beginnings) {
    const { path, latched } = context;
    for (const { state, event, nextState } of modelOf({ path, latched }).getAdjacencyList()) {
      const from = state as unknown as MachineSnapshot;
      const { type } = event as unknown as SessionEvent;
      const to = nextState as unknown as MachineSnapshot;
      // The library lists also what is not permitted, as a way from a state to itself.
      if (type in EVENT_SET && changes(from, { type }))
        edges.set(`${keyOf(from)} ${type}`, { from, event: type, to });
    }
  }
  return [...edges.values()];
}
const EVENT_SET: Readonly<Record<string, true>> = Object.fromEntries(EVENT_TYPES.map((t) => [t, true]));

/** Shortest path to every state, each driven through a fresh subject. */
export function testEveryState(make: () => Subject): {
  readonly paths: number;
  readonly states: Set<string>;
} {
  const sample = make();
  demandAll(sample.events, sample.states);
  const paths = modelOf().getShortestPaths();
  const states = new Set<string>();
  for (const path of paths) {
    const subject = make();
    // A path that is the beginning of a longer one is not listed: every step asserts its own state.
    for (const step of path.steps) {
      const { type } = step.event as SessionEvent;
      if (type in subject.events) subject.events[type]();
      check(subject, step.state as unknown as MachineSnapshot, states);
    }
  }
  return { paths: paths.length, states };
}

function check(subject: Subject, expected: MachineSnapshot, states: Set<string>): void {
  const key = stateOf(expected);
  subject.states[key]?.(expected);
  states.add(key);
}

/** The library predates action executors: it is given the same machine with an executor that runs nothing. */
function withoutActions(begin?: Pick<SessionFlags, 'path' | 'latched'>): unknown {
  type Method = (...args: unknown[]) => unknown;
  const quiet = (scope: unknown) => ({ ...(scope as object), actionExecutor: () => {} });
  return new Proxy(sessionMachine, {
    get(target, key) {
      const value = Reflect.get(target, key) as unknown;
      if (key === 'transition')
        return (s: unknown, e: unknown, scope: unknown) => (value as Method).call(target, s, e, quiet(scope));
      if (key === 'getInitialSnapshot')
        return (scope: unknown, input: unknown) =>
          (value as Method).call(target, quiet(scope), begin ?? input);
      return typeof value === 'function' ? (value as Method).bind(target) : value;
    },
  });
}
