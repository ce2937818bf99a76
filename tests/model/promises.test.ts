/**
 * What the machine promises, stated without looking at its table: the sequence on each path, the proof each step of
 * it waits for, and what stops, trips and elapsed timers do from everywhere.
 */
import { describe, expect, it } from 'vitest';
import { sessionMachine } from '../../machines/session.js';
import {
  EVENT_TYPES,
  PROOF_EVENTS,
  type SessionFlags,
  TIMERS,
  type TimerId,
} from '../../machines/vocabulary.js';
import { stateKeys } from '../../src/audit/explore/coverage.js';
import { type EventType, Subject, stateOf } from '../../src/audit/explore/subject.js';
import { begin, decide, type MachineSnapshot } from '../../src/supervisor/decide.js';

/** One session, driven event by event. */
class Session {
  snapshot: MachineSnapshot;
  commands: readonly string[] = [];
  readonly timers = new Set<TimerId>();

  constructor(begun: Pick<SessionFlags, 'path' | 'latched'> | Session, ...events: readonly EventType[]) {
    const goesOn = begun instanceof Session;
    this.snapshot = goesOn ? begun.snapshot : begin(begun).snapshot;
    if (goesOn) for (const timer of begun.timers) this.timers.add(timer);
    for (const event of events) expect(this.give(event), `${event} in ${this.state}`).toBe(true);
  }
  get state(): string {
    return stateOf(this.snapshot);
  }
  get flags(): SessionFlags {
    return this.snapshot.context;
  }
  /** @returns whether the event is permitted where it comes */
  give(type: EventType): boolean {
    const taken = this.snapshot.can({ type });
    const { snapshot, emissions } = decide(this.snapshot, { type });
    this.snapshot = snapshot;
    this.commands = emissions.flatMap((e) => (e.kind === 'command' ? [e.command] : []));
    for (const e of emissions) {
      if (e.kind === 'start-timer') this.timers.add(e.timer);
      if (e.kind === 'cancel-timer') this.timers.delete(e.timer);
    }
    return taken;
  }
}
const MATCH = { path: 'match', latched: false } as const;
const PRECHARGE = { path: 'pre-charge', latched: false } as const;

/** What happens, where that leads, what is ordered on the way in; from a start to the plug freed. */
type Sequence = readonly (readonly [event: EventType, state: string, orders: readonly string[]])[];
const TO_JOINED: Sequence = [
  ['start', 'securing', ['lock']],
  ['secured', 'proving-presence', ['pilot-on']],
  ['presence', 'checking-isolation', []],
  ['isolation-dead', 'joining-train.closing-train', ['isolation-off', 'close-train']],
  ['train-closed', 'joining-train.joining-rafts', []],
  ['rafts-joined-all', 'joining-train.checking-joined', []],
];
const FROM_CLOSING: Sequence = [
  ['closed-p', 'closing.pole-n', ['close-n']],
  ['closed-n', 'closing.probing', ['open-pre', 'enable-converter', 'probe-poles']],
  ['poles-follow', 'ramping.to-hold-point', ['authorise-hold-point']],
  ['at-hold-point', 'ramping.at-hold-point', []],
  ['hold-point-passed', 'ramping.onward', ['authorise-full']],
  ['at-limit', 'holding', []],
  ['tapering', 'tapering', []],
  ['end', 'ramping-down', ['ramp-down']],
  ['current-zero', 'opening.pole-p-moving', ['disable-converter', 'open-pre', 'open-p']],
  ['elapsed.pole-settling', 'opening.proving-p', ['bleed-output']],
  ['open-p', 'opening.proving-n', ['open-n', 'part-poles']],
  ['open-n', 'opening.draining-output', []],
  ['output-dead', 'parting-train', ['isolation-off', 'open-train']],
  ['train-open', 'bleeding', ['isolation-off', 'bleed-output', 'bleed-plug']],
  ['proven-dead', 'released', ['end-bleeding', 'pilot-off', 'unlock']],
];
const SEQUENCES: Record<SessionFlags['path'], Sequence> = {
  match: [
    ...TO_JOINED,
    ['isolation-joined', 'matching-voltage', ['enable-converter', 'match-voltage']],
    ['voltage-matched', 'closing.pole-p', ['close-p']],
    ...FROM_CLOSING,
  ],
  'pre-charge': [
    ...TO_JOINED,
    ['isolation-joined', 'pre-charging', ['close-n', 'close-pre']],
    ['pre-charged', 'closing.pole-p', ['close-p']],
    ...FROM_CLOSING,
  ],
};
const PATHS = [MATCH, PRECHARGE];

const known = new Map<string, Session>();
/** A session of its own that stands in this state, by the sequence and then by trips. */
function standingIn(state: string): Session {
  const session = known.get(state) ?? sessionTo(state);
  known.set(state, session);
  return new Session(session);
}
function sessionTo(state: string): Session {
  const afterATrip: Record<string, readonly EventType[]> = {
    parked: [],
    'tripped-ramping-down': [...wayTo('holding'), 'trip-1'],
    'making-safe': [...wayTo('holding'), 'trip-0'],
    safe: [...wayTo('holding'), 'trip-0', 'proven-dead'],
    'not-proven-dead': [...wayTo('holding'), 'trip-0', 'elapsed.making-safe'],
  };
  if (state === 'pre-charging') return new Session(PRECHARGE, ...wayTo(state, 'pre-charge'));
  return new Session(MATCH, ...(afterATrip[state] ?? wayTo(state)));
}
function wayTo(state: string, path: SessionFlags['path'] = 'match'): EventType[] {
  const sequence = SEQUENCES[path];
  const last = sequence.findIndex(([, reached]) => reached === state);
  if (last < 0) throw new Error(`${state} is not in the sequence`);
  return sequence.slice(0, last + 1).map(([event]) => event);
}

const STATES = stateKeys(sessionMachine);
const phase = (state: string): string => state.split('.')[0] as string;
const within = (...phases: string[]): string[] => STATES.filter((s) => phases.includes(phase(s)));
const DEAD_YET = within('securing', 'proving-presence', 'checking-isolation');
const CLOSING = within('matching-voltage', 'pre-charging', 'closing');
const WITH_CURRENT = within('ramping', 'holding', 'tapering');
const GOING_DOWN = within('opening', 'parting-train', 'bleeding');
const WITHOUT_CURRENT = [...DEAD_YET, ...within('joining-train'), ...CLOSING, ...GOING_DOWN];
const AFTER_A_TRIP = ['tripped-ramping-down', 'making-safe', 'safe', 'not-proven-dead'];
const BEGIN_AND_END = ['parked', 'released'];

it('names every state of the machine once in these promises', () => {
  const named = [...WITHOUT_CURRENT, ...WITH_CURRENT, 'ramping-down', ...AFTER_A_TRIP, ...BEGIN_AND_END];
  expect(named.sort()).toEqual([...STATES].sort());
});

describe.each(PATHS)('a charge on the $path path', (begun) => {
  const sequence = SEQUENCES[begun.path];
  it('takes its steps in this order, and orders this in each', () => {
    const session = new Session(begun);
    for (const [event, state, orders] of sequence) {
      expect(session.give(event), event).toBe(true);
      expect([session.state, session.commands], event).toEqual([state, orders]);
    }
    expect(session.flags).toEqual({ ...begun, rafts: 'all', trip: 'none' });
  });
  it.each(sequence.map(([event, ,], i) => ({ event, i })))(
    'waits for $event, and no other proof does instead',
    ({ event, i }) => {
      const before = new Session(begun, ...sequence.slice(0, i).map(([e]) => e));
      /** Other proofs that may come here; each is promised by a test of its own below. */
      const also: Partial<Record<EventType, readonly EventType[]>> = {
        'rafts-joined-all': ['rafts-joined-some'],
        'at-limit': ['tapering'],
        tapering: ['rafts-joined-all'],
        end: ['rafts-joined-all'],
      };
      const permitted = PROOF_EVENTS.filter((proof) => new Session(before).give(proof));
      const expected = [event, ...(also[event] ?? [])];
      expect(permitted).toEqual(PROOF_EVENTS.filter((proof) => expected.includes(proof)));
    },
  );
});

describe('where the sequence forks', () => {
  it('goes on with some of the rafts, and remembers that others may still join', () => {
    const session = standingIn('joining-train.joining-rafts');
    session.give('rafts-joined-some');
    expect([session.state, session.flags.rafts]).toEqual(['joining-train.checking-joined', 'some']);
  });
  it.each(['holding', 'tapering'])('lets the others join while %s, without a step of the sequence', (at) => {
    const way = wayTo(at).map((e) => (e === 'rafts-joined-all' ? 'rafts-joined-some' : e));
    const session = new Session(MATCH, ...way);
    expect(session.flags.rafts).toBe('some');
    session.give('rafts-joined-all');
    expect([session.state, session.flags.rafts, session.commands]).toEqual([at, 'all', []]);
  });
  it('tapers at once where the full limit is never reached', () => {
    const session = standingIn('ramping.onward');
    session.give('tapering');
    expect([session.state, session.commands]).toEqual(['tapering', []]);
  });
});

describe('a start', () => {
  it('is heard in parked alone', () => {
    expect(STATES.filter((s) => standingIn(s).give('start'))).toEqual(['parked']);
  });
  it.each(PATHS)('is refused while a trip is latched, on the $path path too', ({ path }) => {
    const session = new Session({ path, latched: true });
    expect(session.give('start')).toBe(false);
    expect([session.state, session.commands, session.flags.latched]).toEqual(['parked', [], true]);
  });
  it('is possible again once the latch was acknowledged', () => {
    const session = new Session({ path: 'match', latched: true }, 'acknowledge');
    expect([session.commands, session.flags.latched]).toEqual([['clear-latch'], false]);
    expect(session.give('start')).toBe(true);
  });
  it('where nothing is said at the beginning, finds the match path and no latch', () => {
    const flags = { path: 'match', rafts: 'none', trip: 'none', latched: false };
    expect(begin(undefined as never).snapshot.context).toEqual(flags);
    expect(begin({} as never).snapshot.context).toEqual(flags);
  });
});

describe('a stop', () => {
  const leads: [string, string[], string, string[]][] = [
    ['nothing joined', DEAD_YET, 'bleeding', ['isolation-off', 'bleed-output', 'bleed-plug']],
    ['the train joined', within('joining-train'), 'parting-train', ['isolation-off', 'open-train']],
    ['a pole perhaps closed', CLOSING, 'opening.pole-p-moving', ['disable-converter', 'open-pre', 'open-p']],
    ['current flowing', WITH_CURRENT, 'ramping-down', ['ramp-down']],
  ];
  it.each(leads)('with %s: %j to %s, ordering %j', (_, from, to, orders) => {
    for (const state of from) {
      const session = standingIn(state);
      expect(session.give('stop'), state).toBe(true);
      expect([session.state, session.commands, session.flags.latched], state).toEqual([to, orders, false]);
    }
  });
  it('changes nothing where it is going down already, or over', () => {
    const heard = STATES.filter((s) => standingIn(s).give('stop'));
    expect(heard.sort()).toEqual(leads.flatMap(([, from]) => from).sort());
  });
  it('an ending as wished ramps down where there is current, and is heard nowhere else', () => {
    for (const state of STATES) {
      const session = standingIn(state);
      expect(session.give('end'), state).toBe(WITH_CURRENT.includes(state));
      if (WITH_CURRENT.includes(state))
        expect([session.state, session.commands]).toEqual(['ramping-down', ['ramp-down']]);
    }
  });
});

describe('a trip', () => {
  const MADE_SAFE = ['making-safe', ['make-safe', 'set-latch'], true];
  const outcome = (session: Session) => [session.state, session.commands, session.flags.latched];

  it.each([...WITHOUT_CURRENT, ...WITH_CURRENT, 'ramping-down', 'tripped-ramping-down'])(
    'trip-0 in %s makes safe at once and is latched',
    (state) => {
      const session = standingIn(state);
      expect(session.give('trip-0')).toBe(true);
      expect(outcome(session)).toEqual(MADE_SAFE);
      expect(session.flags.trip).toBe('trip-0');
      expect([...session.timers]).toEqual(['making-safe']);
    },
  );
  it.each(WITHOUT_CURRENT)('trip-1 in %s, without current, makes safe at once too', (state) => {
    const session = standingIn(state);
    expect(session.give('trip-1')).toBe(true);
    expect([...outcome(session), session.flags.trip]).toEqual([...MADE_SAFE, 'trip-1']);
  });
  it.each([...WITH_CURRENT, 'ramping-down'])('trip-1 in %s ramps down under a deadline, latched', (state) => {
    const session = standingIn(state);
    expect(session.give('trip-1')).toBe(true);
    expect(outcome(session)).toEqual(['tripped-ramping-down', ['set-latch', 'ramp-down'], true]);
    expect([...session.timers]).toEqual(['tripped-ramping-down']);
  });
  it.each(['current-zero', 'elapsed.tripped-ramping-down', 'trip-0'] as const)(
    'ramped down: made safe by %s, and by nothing else',
    (event) => {
      const session = standingIn('tripped-ramping-down');
      session.give(event);
      expect(outcome(session)).toEqual(MADE_SAFE);
      const heard = EVENT_TYPES.filter((e) => standingIn('tripped-ramping-down').give(e));
      expect(heard.sort()).toEqual(['current-zero', 'elapsed.tripped-ramping-down', 'trip-0']);
    },
  );
  it('made safe: ends safe by the proof, not proven dead without it; no order leads on', () => {
    expect(EVENT_TYPES.filter((e) => standingIn('making-safe').give(e))).toEqual([
      'proven-dead',
      'elapsed.making-safe',
    ]);
    expect(EVENT_TYPES.filter((e) => standingIn('not-proven-dead').give(e))).toEqual(['proven-dead']);
    for (const state of ['making-safe', 'not-proven-dead']) {
      const session = standingIn(state);
      session.give('proven-dead');
      expect(outcome(session)).toEqual(['safe', [], true]);
    }
    const late = standingIn('making-safe');
    late.give('elapsed.making-safe');
    expect(outcome(late)).toEqual(['not-proven-dead', [], true]);
  });
  it('safe: an acknowledgement parks it with nothing remembered but the path, and nothing else is heard', () => {
    expect(EVENT_TYPES.filter((e) => standingIn('safe').give(e))).toEqual(['acknowledge']);
    const session = standingIn('safe');
    session.give('acknowledge');
    expect([session.state, session.commands]).toEqual(['parked', ['clear-latch']]);
    expect(session.flags).toEqual({ path: 'match', rafts: 'none', trip: 'none', latched: false });
  });
  it('released and parked hear no trip: nothing is under way', () => {
    expect(EVENT_TYPES.filter((e) => standingIn('released').give(e))).toEqual([]);
    expect(EVENT_TYPES.filter((e) => standingIn('parked').give(e))).toEqual(['start']);
  });
  it('grows no milder until it is acknowledged, from any state by any event', () => {
    const grade = ({ trip }: SessionFlags): number => ['none', 'trip-1', 'trip-0'].indexOf(trip);
    const subject = new Subject();
    for (const state of STATES) {
      const { snapshot } = standingIn(state);
      for (const event of EVENT_TYPES.filter((e) => e !== 'acknowledge')) {
        const { step } = subject.move(snapshot, state, event);
        expect(grade(step.reached.flags), `${event} in ${state}`).toBeGreaterThanOrEqual(
          grade(step.before.flags),
        );
        if (step.before.flags.latched) expect(step.reached.flags.latched).toBe(true);
      }
    }
  });
});

describe('a timer', () => {
  /** Phases that wait for people, for the battery, or for nothing. */
  const UNTIMED = ['parked', 'holding', 'tapering', 'released', 'safe', 'not-proven-dead'];
  it.each(STATES)('runs in %s for its phase, or none does', (state) => {
    const expected = UNTIMED.includes(state) ? [] : [phase(state)];
    if (state === 'opening.pole-p-moving') expected.push('pole-settling');
    expect([...standingIn(state).timers].sort()).toEqual(expected);
  });
  const DEADLINES = TIMERS.filter(
    (t) => !['pole-settling', 'tripped-ramping-down', 'making-safe'].includes(t),
  );
  it.each(DEADLINES)('%s missed is a trip-0 wherever it runs, and is heard nowhere else', (timer) => {
    for (const state of STATES) {
      const session = standingIn(state);
      const runs = phase(state) === timer;
      expect(session.give(`elapsed.${timer}`), state).toBe(runs);
      if (!runs) continue;
      expect([session.state, session.commands]).toEqual(['making-safe', ['make-safe', 'set-latch']]);
      expect([session.flags.trip, session.flags.latched]).toEqual(['trip-0', true]);
    }
  });
});

describe('what a state is said to be', () => {
  const tagged = (tag: 'live' | 'current' | 'governed' | 'may-join' | 'tripped' | 'ended'): string[] =>
    STATES.filter((s) => standingIn(s).snapshot.hasTag(tag)).sort();
  it('live: everywhere from the first contactor until the proof', () => {
    const dead = [...DEAD_YET, 'parked', 'released', 'safe'];
    expect(tagged('live')).toEqual(STATES.filter((s) => !dead.includes(s)).sort());
  });
  it('with current, and governed: where a set-point may stand', () => {
    const current = [...WITH_CURRENT, 'ramping-down', 'tripped-ramping-down'].sort();
    expect(tagged('current')).toEqual(current);
    expect(tagged('governed')).toEqual(current);
  });
  it('open to rafts, tripped, ended', () => {
    expect(tagged('may-join')).toEqual(['holding', 'joining-train.joining-rafts', 'tapering']);
    expect(tagged('tripped')).toEqual([...AFTER_A_TRIP].sort());
    expect(tagged('ended')).toEqual(['not-proven-dead', 'released', 'safe']);
  });
});
