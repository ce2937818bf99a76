/** The discrete machine, walked exhaustively. */
import { describe, expect, it } from 'vitest';
import { COMMANDS, EVENT_TYPES, PROOF_EVENTS, TIMERS } from '../../machines/vocabulary.js';
import { PHASES } from '../../src/rig/roles.js';
import { begin, decide, phaseOf } from '../../src/supervisor/decide.js';
import { type Subject, stateKeyOf, stateKeys, testEveryState } from './test-model.js';
import { commandsOf, keyOf, walk } from './walk.js';

const CLOSING = ['close-train', 'close-p', 'close-n', 'close-pre', 'enable-converter'];
const AUTHORITY = ['authorise-hold-point', 'authorise-full'];

describe.each(['match', 'pre-charge'] as const)('the machine on the %s path', (path) => {
  const { states, edges } = walk(path);

  it('is finite and small enough to enumerate', () => {
    expect(states.size).toBeGreaterThan(30);
    expect(states.size).toBeLessThan(1000);
  });
  it('emits only known commands and timers, and uses each command somewhere', () => {
    const used = new Set(edges.flatMap((e) => commandsOf(e.decision)));
    expect([...used].filter((c) => !(COMMANDS as readonly string[]).includes(c))).toEqual([]);
    const unused = COMMANDS.filter((c) => !used.has(c));
    expect(unused).toEqual(path === 'match' ? ['close-pre'] : ['match-voltage']);
  });
  it('starts and cancels every timer, and never lets one run on into another phase', () => {
    for (const { from, decision } of edges) {
      const started = decision.emissions.flatMap((e) => (e.kind === 'start-timer' ? [e.timer] : []));
      for (const timer of started) {
        expect(TIMERS).toContain(timer);
        expect(decision.snapshot.can({ type: `elapsed.${timer}` }), `${keyOf(from)} starts ${timer}`).toBe(
          true,
        );
      }
    }
  });
  it('after a trip orders nothing closed, nothing enabled and no authority', () => {
    for (const { decision } of edges) {
      if (!decision.snapshot.hasTag('tripped')) continue;
      expect(commandsOf(decision).filter((c) => [...CLOSING, ...AUTHORITY, 'unlock'].includes(c))).toEqual(
        [],
      );
    }
  });
  it('leaves a trip only by acknowledgement, and only to parked', () => {
    for (const { from, event, decision } of edges) {
      if (!from.hasTag('tripped') || decision.snapshot.hasTag('tripped')) continue;
      expect(event.type).toBe('acknowledge');
      expect(phaseOf(from)).toBe('safe');
      expect(phaseOf(decision.snapshot)).toBe('parked');
    }
  });
  it('orders make-safe in the very transition of a trip-0, from every phase under way', () => {
    for (const from of states.values()) {
      if (from.hasTag('ended') || from.hasTag('tripped') || phaseOf(from) === 'parked') continue;
      const decision = decide(from, { type: 'trip-0' });
      expect(commandsOf(decision), keyOf(from)).toContain('make-safe');
      expect(decision.snapshot.context.latched).toBe(true);
    }
  });
  it('answers a trip-1 by ramping down under a deadline where there is current, by making safe elsewhere', () => {
    for (const from of states.values()) {
      if (from.hasTag('ended') || from.hasTag('tripped') || phaseOf(from) === 'parked') continue;
      const decision = decide(from, { type: 'trip-1' });
      const commands = commandsOf(decision);
      expect(commands).toContain(from.hasTag('current') ? 'ramp-down' : 'make-safe');
      expect(decision.emissions.some((e) => e.kind === 'start-timer')).toBe(true);
    }
  });
  it('never starts while latched', () => {
    for (const s of states.values()) if (s.context.latched) expect(s.can({ type: 'start' })).toBe(false);
  });
  it('ends from every state by trips and elapsed timers alone', () => {
    const longest = Math.max(...[...states.values()].map((s) => stepsToEnd(s)));
    expect(longest).toBeLessThanOrEqual(3);
  });
});

/** Silence: a trip-0, then nothing but timers. */
function stepsToEnd(start: ReturnType<typeof begin>['snapshot']): number {
  let s = start;
  for (let steps = 0; steps < 20; steps++) {
    if (s.hasTag('ended') || phaseOf(s) === 'parked') return steps;
    const events = ['trip-0', ...TIMERS.map((t) => `elapsed.${t}` as const)] as const;
    const next = events.find((type) => s.can({ type }));
    if (next === undefined) return Number.POSITIVE_INFINITY;
    s = decide(s, { type: next }).snapshot;
  }
  return Number.POSITIVE_INFINITY;
}

describe('words and phases', () => {
  it('has exactly the phases of the dictionary', () => {
    const tops = new Set(stateKeys().map((k) => k.split('.')[0]));
    expect([...tops].sort()).toEqual([...PHASES].sort());
  });
  it('reaches every state and takes every event somewhere', () => {
    const both = [walk('match'), walk('pre-charge')];
    const reached = new Set(both.flatMap((w) => [...w.states.values()].map(stateKeyOf)));
    expect(stateKeys().filter((k) => !reached.has(k))).toEqual([]);
    const taken = new Set(both.flatMap((w) => w.edges.map((e) => e.event.type)));
    expect(EVENT_TYPES.filter((t) => !taken.has(t))).toEqual([]);
  });
});

describe('the model test', () => {
  const subject = (): Subject => {
    let snapshot = begin({ path: 'match', latched: false }).snapshot;
    return {
      events: Object.fromEntries(
        EVENT_TYPES.map((type) => [
          type,
          () => {
            if (snapshot.can({ type })) snapshot = decide(snapshot, { type }).snapshot;
          },
        ]),
      ) as Subject['events'],
      states: Object.fromEntries(
        stateKeys().map((key) => [
          key,
          (expected: typeof snapshot) => {
            expect(keyOf(snapshot)).toBe(keyOf(expected));
            expect(stateKeyOf(snapshot)).toBe(key);
          },
        ]),
      ),
    };
  };
  it('reaches every state of the match path through the supervisor’s own step function', () => {
    const { states } = testEveryState(subject);
    expect(stateKeys().filter((k) => !states.has(k))).toEqual(['pre-charging']);
  });
  it('demands a handler for every event and an assertion for every state', () => {
    const { events, states } = subject();
    const { secured: _, ...fewer } = events;
    expect(() => testEveryState(() => ({ events: fewer as Subject['events'], states }))).toThrow(
      /event secured/,
    );
    const { parked: __, ...less } = states;
    expect(() => testEveryState(() => ({ events, states: less }))).toThrow(/state parked/);
  });
});

it('offers the machine every proof it can take', () => {
  expect(new Set(PROOF_EVENTS).size).toBe(PROOF_EVENTS.length);
});
