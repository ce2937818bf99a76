/**
 * The one wrapper of @xstate/test, which by itself passes when handlers or assertions are missing. Here a
 * handler for every event and an assertion for every state are demanded, states are told apart by value and
 * flags, and the walk has a bound.
 */
import { createTestModel } from '@xstate/test';
import { sessionMachine } from '../../machines/session.js';
import { EVENT_TYPES, type SessionEvent } from '../../machines/vocabulary.js';
import { stateKeys } from '../../src/audit/explore/coverage.js';
import { stateOf } from '../../src/audit/explore/subject.js';
import type { MachineSnapshot } from '../../src/supervisor/decide.js';

export interface Subject {
  readonly events: Readonly<Record<SessionEvent['type'], () => void>>;
  readonly states: Readonly<Record<string, (expected: MachineSnapshot) => void>>;
}

/** Shortest path to every state, each driven through a fresh subject. */
export function testEveryState(make: () => Subject): {
  readonly paths: number;
  readonly states: Set<string>;
} {
  const sample = make();
  const missing = [
    ...EVENT_TYPES.filter((t) => sample.events[t] === undefined).map((t) => `event ${t}`),
    ...stateKeys(sessionMachine)
      .filter((k) => sample.states[k] === undefined)
      .map((k) => `state ${k}`),
  ];
  if (missing.length > 0) throw new Error(`no handler or assertion for: ${missing.join(', ')}`);
  const model = createTestModel(
    withoutActions() as never,
    {
      events: EVENT_TYPES.map((type) => ({ type })) as never,
      serializeState: ((s: MachineSnapshot) => JSON.stringify([s.value, s.context])) as never,
      limit: 5000,
    } as never,
  );
  const paths = model.getShortestPaths();
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
function withoutActions(): unknown {
  type Method = (...args: unknown[]) => unknown;
  const quiet = (scope: unknown) => ({ ...(scope as object), actionExecutor: () => {} });
  return new Proxy(sessionMachine, {
    get(target, key) {
      const value = Reflect.get(target, key) as unknown;
      if (key === 'transition')
        return (s: unknown, e: unknown, scope: unknown) => (value as Method).call(target, s, e, quiet(scope));
      if (key === 'getInitialSnapshot')
        return (scope: unknown, input: unknown) => (value as Method).call(target, quiet(scope), input);
      return typeof value === 'function' ? (value as Method).bind(target) : value;
    },
  });
}
