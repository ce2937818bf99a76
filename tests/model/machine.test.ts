/** The words, timers and phases of the machine, and the model test. The invariants: exploration.test.ts. */
import { describe, expect, it } from 'vitest';
import { sessionMachine } from '../../machines/session.js';
import { COMMANDS, EVENT_TYPES, PROOF_EVENTS, TIMERS } from '../../machines/vocabulary.js';
import { stateKeys } from '../../src/audit/explore/coverage.js';
import { explore } from '../../src/audit/explore/explore.js';
import { keyOf, Subject, stateOf } from '../../src/audit/explore/subject.js';
import { PHASES } from '../../src/rig/roles.js';
import { begin, decide } from '../../src/supervisor/decide.js';
import { type Subject as Driven, testEveryState } from './test-model.js';

const met = explore(new Subject());
const moves = met.nodes.flatMap((n) => [...n.edges.values()].map((e) => ({ from: n, ...e.move })));

describe.each(['match', 'pre-charge'] as const)('the machine on the %s path', (path) => {
  const mine = moves.filter((m) => m.from.snapshot.context.path === path);

  it('is finite and small enough to enumerate', () => {
    expect(met.machineStates.size).toBeGreaterThan(60);
    expect(met.machineStates.size).toBeLessThan(2000);
  });
  it('emits only known commands and timers, and uses each command somewhere', () => {
    const used = new Set(mine.flatMap((m) => m.step.commands));
    expect([...used].filter((c) => !COMMANDS.includes(c))).toEqual([]);
    const unused = COMMANDS.filter((c) => !used.has(c));
    expect(unused).toEqual(path === 'match' ? ['close-pre'] : ['match-voltage']);
  });
  it('starts and cancels every timer, and never lets one run on into another phase', () => {
    for (const { from, started, snapshot } of mine) {
      for (const timer of started) {
        expect(TIMERS).toContain(timer);
        expect(snapshot.can({ type: `elapsed.${timer}` }), `${from.key} starts ${timer}`).toBe(true);
      }
    }
    for (const node of met.nodes)
      for (const timer of node.timers)
        expect(node.snapshot.can({ type: `elapsed.${timer}` }), node.key).toBe(true);
  });
  it('answers a trip-1 by a ramp-down under a deadline where there is current', () => {
    const trips = mine.filter((m) => m.step.event === 'trip-1' && m.from.snapshot.hasTag('current'));
    expect(trips.length).toBeGreaterThan(0);
    for (const { started, snapshot } of trips) {
      expect(started).toEqual(['tripped-ramping-down']);
      expect(snapshot.hasTag('tripped')).toBe(true);
    }
  });
});

describe('words and phases', () => {
  it('has exactly the phases of the dictionary', () => {
    const tops = new Set(stateKeys(sessionMachine).map((k) => k.split('.')[0]));
    expect([...tops].sort()).toEqual([...PHASES].sort());
  });
  it('takes every event somewhere', () => {
    const taken = new Set(moves.map((m) => m.step.event));
    expect(EVENT_TYPES.filter((t) => !taken.has(t))).toEqual([]);
  });
});

describe('the model test', () => {
  const subject = (): Driven => {
    let snapshot = begin({ path: 'match', latched: false }).snapshot;
    return {
      events: Object.fromEntries(
        EVENT_TYPES.map((type) => [
          type,
          () => {
            if (snapshot.can({ type })) snapshot = decide(snapshot, { type }).snapshot;
          },
        ]),
      ) as Driven['events'],
      states: Object.fromEntries(
        stateKeys(sessionMachine).map((key) => [
          key,
          (expected: typeof snapshot) => {
            expect(keyOf(snapshot)).toBe(keyOf(expected));
            expect(stateOf(snapshot)).toBe(key);
          },
        ]),
      ),
    };
  };
  it('reaches every state of the match path through the supervisor’s own step function', () => {
    const { states } = testEveryState(subject);
    expect(stateKeys(sessionMachine).filter((k) => !states.has(k))).toEqual(['pre-charging']);
  });
  it('demands a handler for every event and an assertion for every state', () => {
    const { events, states } = subject();
    const { secured: _, ...fewer } = events;
    expect(() => testEveryState(() => ({ events: fewer as Driven['events'], states }))).toThrow(
      /event secured/,
    );
    const { parked: __, ...less } = states;
    expect(() => testEveryState(() => ({ events, states: less }))).toThrow(/state parked/);
  });
});

it('offers the machine every proof it can take', () => {
  expect(new Set(PROOF_EVENTS).size).toBe(PROOF_EVENTS.length);
});
