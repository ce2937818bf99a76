/**
 * Each invariant of the machine by itself, on small rows of steps written by hand: some keep it, some break it by
 * one step. No machine is asked here, so that a judge that sleeps is found out even while the machine behaves.
 */
import { describe, expect, it } from 'vitest';
import { INVARIANT_IDS, INVARIANTS, type InvariantId } from '../../machines/invariant-list.js';
import {
  brokenOnMachine,
  isEnd,
  type MachineStep,
  NOTHING_YET,
  remember,
} from '../../machines/invariants.js';
import { type Command, EVENT_TYPES, type SessionFlags, TIMERS } from '../../machines/vocabulary.js';

type EventType = MachineStep['event'];
interface Where {
  /** The state before; one that is no end when not said. */
  readonly at?: string;
  /** The state after; the same when not said. */
  readonly to?: string;
  readonly path?: SessionFlags['path'];
  /** The latch before and after; as a well-behaved machine would have it when not said. */
  readonly latch?: readonly [before: boolean, after: boolean];
  readonly refused?: true;
}
type Row = readonly [event: EventType, commands?: readonly Command[], where?: Where];

const isTrip = (event: EventType): boolean => event === 'trip-0' || event === 'trip-1';

/** What the last of these steps breaks; the steps before it must break nothing, or the row says something else. */
function judge(rows: readonly Row[]): string[] {
  let memory = NOTHING_YET;
  let latched = false;
  let said: string[] = [];
  for (const [event, commands = [], where = {}] of rows) {
    expect(said, `before ${event}`).toEqual([]);
    const { at = 'under-way', to = at, path = 'match', refused } = where;
    const after = event !== 'acknowledge' && (latched || isTrip(event));
    const [was, is] = where.latch ?? [latched, refused ? latched : after];
    const flags = { path, rafts: 'none', trip: 'none' } as const;
    const step: MachineStep = {
      before: { state: at, flags: { ...flags, latched: was } },
      event,
      taken: refused !== true,
      reached: { state: to, flags: { ...flags, latched: is } },
      commands,
    };
    said = brokenOnMachine(memory, step).map(({ id, why }) => `${id} ${why}`);
    memory = remember(memory, step);
    latched = is;
  }
  return said;
}
const keeps = (...rows: Row[]) => expect(judge(rows)).toEqual([]);
const breaks = (rows: readonly Row[], ...what: string[]) => expect(judge(rows)).toEqual(what);

const START: Row = ['start', ['lock']];
/** All that is proven on the way to the poles, in order. */
const PROVEN: readonly EventType[] = [
  'secured',
  'presence',
  'isolation-dead',
  'isolation-joined',
  'voltage-matched',
];
const rowsOf = (events: readonly EventType[]): Row[] => events.map((event): Row => [event]);
const provenBut = (...left: EventType[]): Row[] => [
  START,
  ...rowsOf(PROVEN.filter((e) => !left.includes(e))),
];
const JOINED = provenBut('voltage-matched');
const READY = provenBut();
/** Both poles closed and probed: authority may be given. */
const closedBut = (...left: EventType[]): Row[] => [
  ...READY,
  ...rowsOf((['closed-p', 'closed-n', 'poles-follow'] as const).filter((e) => !left.includes(e))),
];
const CLOSED = closedBut();
const AUTHORISED: readonly Row[] = [...CLOSED, ['at-hold-point', ['authorise-full']]];
const ENDS = ['parked', 'released', 'safe', 'not-proven-dead'];
const CONTACTORS = ['close-train', 'close-pre', 'close-p', 'close-n'] as const;
const AUTHORITIES = ['authorise-hold-point', 'authorise-full'] as const;
const ENERGISING = [
  ...CONTACTORS,
  ...AUTHORITIES,
  'enable-converter',
  'match-voltage',
  'probe-poles',
] as const;
/** Timers whose end leads on in the sequence; the end of any other means that something did not come. */
const STEPS_OF_THE_SEQUENCE = ['pole-settling', 'tripped-ramping-down', 'making-safe'];
const DEADLINES = TIMERS.filter((t) => !STEPS_OF_THE_SEQUENCE.includes(t));

describe('the list', () => {
  it.each(INVARIANT_IDS)('%s has one sentence that people can read', (id) => {
    expect(INVARIANTS[id].sentence).toMatch(/^[A-Z][^.]{30,}\.$/);
  });
  it('says which the machine alone can break, and no two say the same', () => {
    const alone = INVARIANT_IDS.filter((id) => INVARIANTS[id].onMachine);
    expect(alone).toEqual(['I1', 'I2', 'I4', 'I5', 'I6', 'I10', 'I12']);
    expect(INVARIANT_IDS).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12].map((n) => `I${n}`));
    expect(new Set(INVARIANT_IDS.map((id) => INVARIANTS[id].sentence)).size).toBe(12);
  });
  it('takes for an end what is over or was not begun, and nothing else', () => {
    expect(ENDS.filter((state) => !isEnd(state))).toEqual([]);
    const under = [
      'securing',
      'closing.pole-p',
      'holding',
      'bleeding',
      'making-safe',
      'tripped-ramping-down',
    ];
    expect(under.filter(isEnd)).toEqual([]);
  });
});

describe('I1: contactors close on proofs of this session only', () => {
  const needs: Record<(typeof CONTACTORS)[number], readonly EventType[]> = {
    'close-train': ['secured', 'presence', 'isolation-dead'],
    'close-pre': ['secured', 'presence', 'isolation-dead', 'isolation-joined'],
    'close-p': PROVEN,
    'close-n': PROVEN,
  };
  const called = (proof: EventType): string => (proof === 'voltage-matched' ? 'match' : proof);
  const lacking = CONTACTORS.flatMap((order) => needs[order].map((proof) => ({ order, proof })));

  it.each(lacking)('$order breaks it without $proof', ({ order, proof }) => {
    const why = `I1 ${order} without: ${called(proof)}`;
    const alsoFixed = proof === 'secured' ? [`I12 ${order} without: secured`] : [];
    breaks([...provenBut(proof), ['stop', [order]]], why, ...alsoFixed);
  });
  it.each(CONTACTORS)('%s needs nothing more than that', (order) => {
    const spare = PROVEN.filter((proof) => !needs[order].includes(proof));
    keeps(...provenBut(...spare), ['stop', [order]]);
  });
  it.each(CONTACTORS)('%s: a proof that was not taken proves nothing', (order) => {
    breaks(
      [...provenBut('presence'), ['presence', [], { refused: true }], ['stop', [order]]],
      `I1 ${order} without: presence`,
    );
  });
  it('counts a charged output capacitor as a match', () => {
    keeps(...JOINED, ['pre-charged', ['close-p', 'close-n']]);
  });
  it('lets N close before the match where the output is charged through it, but never P', () => {
    keeps(...JOINED, ['stop', ['close-n', 'close-pre'], { path: 'pre-charge' }]);
    breaks([...JOINED, ['stop', ['close-p'], { path: 'pre-charge' }]], 'I1 close-p without: match');
  });
  it('names all that is missing, and the first order that lacks it', () => {
    breaks(
      [START, ['secured'], ['stop', ['close-p', 'close-n']]],
      'I1 close-p without: presence, isolation-dead, isolation-joined, match',
    );
  });
  it('sees past an order that may stand, and holds each order to its own needs', () => {
    breaks([...JOINED, ['stop', ['close-train', 'close-p']]], 'I1 close-p without: match');
  });
  it.each(['start', 'acknowledge'] as const)('forgets every proof with %s', (event) => {
    breaks(
      [...READY, [event, ['lock', 'close-p']]],
      'I1 close-p without: secured, presence, isolation-dead, isolation-joined, match',
      'I12 close-p without: secured',
    );
  });
  it('keeps the proofs through a start that was refused', () => {
    keeps(...READY, ['start', [], { refused: true }], ['stop', ['close-p']]);
  });
});

describe('I2: authority with both poles confirmed closed, and unbroken', () => {
  const proofs: readonly EventType[] = [
    'closed-p',
    'closed-n',
    'poles-follow',
    'presence',
    'isolation-joined',
  ];
  const authorityWithout = proofs.flatMap((proof) => AUTHORITIES.map((order) => ({ order, proof })));

  it.each(authorityWithout)('$order breaks it without $proof', ({ order, proof }) => {
    const rows = [...provenBut(proof), ...rowsOf(['closed-p', 'closed-n', 'poles-follow'])];
    const closed = rows.filter(([event]) => event !== proof);
    breaks([...closed, ['stop', [order]]], `I2 ${order} without: ${proof}`);
  });
  it.each(AUTHORITIES)('%s may be given with all of them', (order) => {
    keeps(...CLOSED, ['at-hold-point', [order]]);
  });
  it.each([
    ['open-p', 'closed-p, poles-follow'],
    ['open-n', 'closed-n, poles-follow'],
    ['make-safe', 'closed-p, closed-n, poles-follow'],
  ] as const)('%s undoes what the poles proved', (order, lost) => {
    breaks(
      [...CLOSED, ['stop', [order]], ['at-limit', ['authorise-full']]],
      `I2 authorise-full without: ${lost}`,
    );
    breaks([...CLOSED, ['stop', [order, 'authorise-full']]], `I2 authorise-full without: ${lost}`);
  });
  it('is not given again once the current was ordered down', () => {
    breaks(
      [...AUTHORISED, ['end', ['ramp-down']], ['at-limit', ['authorise-full']]],
      'I2 authorise-full without: no ramp-down since',
    );
  });
  it('is not given after a trip', () => {
    breaks(
      [...AUTHORISED, ['trip-1', ['make-safe']], ['at-limit', ['authorise-full']]],
      'I2 authorise-full without: closed-p, closed-n, poles-follow, no trip since',
      'I6 authorise-full after a trip',
    );
  });
  it('is given anew after a new start that proves all of it again', () => {
    keeps(...AUTHORISED, ['end', ['ramp-down']], ...CLOSED, ['at-hold-point', ['authorise-full']]);
  });
});

describe('I4: a trip is answered in its own step', () => {
  it('trip-0 needs make-safe, whatever else is ordered', () => {
    keeps(...READY, ['trip-0', ['make-safe']]);
    breaks([...READY, ['trip-0']], 'I4 trip-0 without make-safe');
    breaks([...AUTHORISED, ['trip-0', ['ramp-down']]], 'I4 trip-0 without make-safe');
  });
  it('a trip-0 that is not heard is not answered', () => {
    breaks([START, ['trip-0', [], { refused: true }]], 'I4 trip-0 without make-safe');
  });
  it('trip-1 needs ramp-down under authority, and make-safe will do too', () => {
    keeps(...AUTHORISED, ['trip-1', ['ramp-down']]);
    keeps(...AUTHORISED, ['trip-1', ['make-safe']]);
    breaks([...AUTHORISED, ['trip-1']], 'I4 trip-1 without ramp-down');
    breaks([...AUTHORISED, ['trip-1', [], { refused: true }]], 'I4 trip-1 without ramp-down');
  });
  it.each(AUTHORITIES)('%s is authority', (order) => {
    keeps(...CLOSED, ['at-hold-point', [order]], ['trip-1', ['ramp-down']]);
  });
  it('trip-1 needs make-safe where no authority stands', () => {
    keeps(...READY, ['trip-1', ['make-safe']]);
    breaks([...READY, ['trip-1', ['ramp-down']]], 'I4 trip-1 without make-safe');
    breaks([...READY, ['trip-1']], 'I4 trip-1 without make-safe');
  });
  it('the authority ends with the converter', () => {
    const off: Row = ['current-zero', ['disable-converter']];
    breaks([...AUTHORISED, off, ['trip-1', ['ramp-down']]], 'I4 trip-1 without make-safe');
  });
  it('a second trip-1 is answered by what the first one ordered', () => {
    keeps(...AUTHORISED, ['trip-1', ['ramp-down']], ['trip-1', [], { refused: true }]);
  });
  it('a trip-0 after a trip-1 still needs make-safe', () => {
    breaks([...AUTHORISED, ['trip-1', ['ramp-down']], ['trip-0']], 'I4 trip-0 without make-safe');
  });
  it.each(DEADLINES)('a deadline missed (%s) needs make-safe', (timer) => {
    const event: EventType = `elapsed.${timer}`;
    keeps(...READY, [event, ['make-safe'], { latch: [false, true] }]);
    breaks([...READY, [event, [], { latch: [false, true] }]], `I4 ${event} without make-safe`);
    // A timer nobody waits for any more is no deadline.
    keeps(...READY, [event, [], { refused: true }]);
  });
  it.each(STEPS_OF_THE_SEQUENCE)('the end of %s is a step of the sequence, no trip', (timer) => {
    keeps(...READY, [`elapsed.${timer}` as EventType]);
  });
  it('asks nothing of a step that is no trip', () => {
    expect(EVENT_TYPES).toContain('tapering');
    keeps(...AUTHORISED, ['tapering']);
  });
  it.each(ENDS)('asks nothing where nothing is under way: %s', (at) => {
    for (const trip of ['trip-0', 'trip-1'] as const) keeps(START, [trip, [], { at, refused: true }]);
  });
  it('asks nothing before a start, nor once it is being made safe', () => {
    for (const trip of ['trip-0', 'trip-1'] as const) keeps([trip, [], { refused: true }]);
    keeps(...READY, ['trip-0', ['make-safe']], ['trip-0', [], { refused: true }]);
    keeps(...READY, ['stop', ['make-safe']], ['trip-1', [], { refused: true }]);
  });
});

describe('I5: the plug is freed only when proven dead, and not after a trip', () => {
  it('needs the proof', () => {
    keeps(...READY, ['proven-dead', ['end-bleeding', 'unlock']]);
    breaks([...READY, ['stop', ['unlock']]], 'I5 unlock without: proven-dead');
    breaks([...READY, ['proven-dead', ['unlock'], { refused: true }]], 'I5 unlock without: proven-dead');
  });
  it.each(ENERGISING)('%s makes an earlier proof worthless', (order) => {
    breaks(
      [...CLOSED, ['proven-dead'], ['stop', [order]], ['stop', ['unlock']]],
      'I5 unlock without: proven-dead',
    );
    keeps(...CLOSED, ['proven-dead'], ['stop', [order]], ['proven-dead', ['unlock']]);
  });
  it.each(['open-p', 'bleed-plug', 'ramp-down', 'isolation-off', 'lock'] as const)(
    '%s makes nothing live, and the proof stands',
    (order) => {
      keeps(...CLOSED, ['proven-dead'], ['stop', [order, 'unlock']]);
    },
  );
  it.each(['trip-0', 'trip-1', 'elapsed.bleeding'] as const)('not after %s', (event) => {
    breaks(
      [
        ...READY,
        [event, ['make-safe'], { latch: [false, true] }],
        ['proven-dead', ['unlock'], { to: 'safe' }],
      ],
      'I5 unlock without: no trip',
    );
  });
});

describe('I6: after a trip nothing restarts by itself', () => {
  const TRIPPED: readonly Row[] = [...READY, ['trip-0', ['make-safe']]];

  it('no start while latched', () => {
    breaks([['start', ['lock'], { latch: [true, true] }]], 'I6 start while latched');
    keeps(['start', [], { latch: [true, true], refused: true }]);
    keeps(['start', ['lock'], { latch: [false, false] }]);
  });
  it('a latch from before this session is no bar to anything but a start', () => {
    keeps(['stop', [], { latch: [true, true] }]);
  });
  it('is acknowledged only after a proof', () => {
    breaks([...TRIPPED, ['acknowledge']], 'I6 acknowledged before it was proven dead');
    keeps(...TRIPPED, ['proven-dead', [], { to: 'safe' }], ['acknowledge', [], { at: 'safe', to: 'parked' }]);
    keeps(...TRIPPED, ['acknowledge', [], { refused: true }]);
  });
  it('a latch that stands without a trip of this session is acknowledged as it is', () => {
    keeps(['acknowledge', ['clear-latch'], { at: 'parked', latch: [true, false] }]);
  });
  it('the latch falls by an acknowledgement alone', () => {
    breaks(
      [...TRIPPED, ['proven-dead', [], { to: 'safe', latch: [true, false] }]],
      'I6 the latch falls without an acknowledgement',
    );
    breaks([['stop', [], { latch: [true, false] }]], 'I6 the latch falls without an acknowledgement');
  });
  it.each(['trip-0', 'trip-1', 'elapsed.securing'] as const)('%s is latched in its own step', (event) => {
    breaks([START, [event, ['make-safe'], { latch: [false, false] }]], 'I6 a trip is not latched');
    keeps(START, [event, ['make-safe'], { latch: [false, true] }]);
  });
  it.each(['parked', 'released'])('no trip leads to %s', (to) => {
    breaks([START, ['trip-0', ['make-safe'], { to }]], `I6 a trip leads to ${to}`);
    breaks([...TRIPPED, ['proven-dead', [], { to }]], `I6 a trip leads to ${to}`);
    keeps(START, ['stop', [], { to }]);
  });
  it.each(ENERGISING)('%s is not ordered after a trip', (order) => {
    const rows: Row[] = [...CLOSED, ['trip-1', ['ramp-down', 'make-safe']], ['stop', [order]]];
    expect(judge(rows)).toContain(`I6 ${order} after a trip`);
    expect(judge([...CLOSED, ['trip-0', ['make-safe', order]]])).toContain(`I6 ${order} after a trip`);
  });
  it('what makes safer may be ordered after a trip', () => {
    keeps(...TRIPPED, ['stop', ['open-p', 'bleed-output', 'bleed-plug', 'open-train', 'set-latch']]);
  });
  it('says nothing of what is refused after a trip', () => {
    keeps(...TRIPPED, ['start', [], { refused: true, to: 'parked' }]);
  });
  it('lets a session begin again once it was acknowledged', () => {
    keeps(...TRIPPED, ['proven-dead', [], { to: 'safe' }], ['acknowledge'], ...READY, ['stop', ['close-p']]);
  });
});

describe('I12: nothing live unless locked and secured, and a loss trips', () => {
  const FIXED = [...CONTACTORS, ...AUTHORITIES, 'enable-converter'] as const;

  it.each(FIXED)('%s needs the lock', (order) => {
    const unlocked: Row[] = CLOSED.map((row) => (row === START ? ['start'] : row));
    breaks([...unlocked, ['stop', [order]]], `I12 ${order} without: lock ordered`);
    keeps(...CLOSED, ['stop', [order]]);
  });
  it('the plug freed is no longer locked, and locked again it is', () => {
    breaks(
      [...CLOSED, ['proven-dead', ['unlock']], ['stop', ['close-train']]],
      'I12 close-train without: lock ordered',
    );
    keeps(...CLOSED, ['proven-dead', ['unlock', 'lock', 'close-train']]);
  });
  it('the lock comes before what it locks', () => {
    breaks(
      [['start'], ['secured', ['enable-converter', 'lock']]],
      'I12 enable-converter without: lock ordered',
    );
    keeps(['start'], ['secured', ['lock', 'enable-converter']]);
  });
  it('enable-converter needs the securing too', () => {
    breaks([START, ['stop', ['enable-converter']]], 'I12 enable-converter without: secured');
    breaks(
      [['start'], ['stop', ['enable-converter']]],
      'I12 enable-converter without: lock ordered, secured',
    );
  });

  const lossRefused = (...rows: Row[]): string[] => judge([...rows, ['trip-0', [], { refused: true }]]);
  const LOSS = 'I12 a loss while live is not taken as a trip';
  it.each(CONTACTORS)('a loss once %s was ordered must be taken', (order) => {
    const live: Row[] = [...READY, ['stop', [order]]];
    expect(lossRefused(...live)).toEqual(['I4 trip-0 without make-safe', LOSS]);
    keeps(...live, ['trip-0', ['make-safe']]);
  });
  it('nothing is live before a contactor was ordered closed, nor once proven dead', () => {
    expect(lossRefused(...READY)).not.toContain(LOSS);
    const dead: Row[] = [...READY, ['stop', ['close-train']], ['proven-dead']];
    expect(lossRefused(...dead)).not.toContain(LOSS);
    expect(lossRefused(...dead, ['stop', ['close-train']])).toContain(LOSS);
  });
  it('only a trip-0 is a loss', () => {
    keeps(...READY, ['stop', ['close-train']], ['presence', [], { refused: true }]);
  });
  it('a loss while it is made safe, or at an end, is answered already', () => {
    keeps(...READY, ['stop', ['close-train']], ['stop', ['make-safe']], ['trip-0', [], { refused: true }]);
    for (const at of ENDS) keeps(...READY, ['stop', ['close-train']], ['trip-0', [], { at, refused: true }]);
  });
});

it('tells every invariant one step breaks, each in its order', () => {
  const ids = judge([
    ['start', ['close-p', 'authorise-full', 'unlock'], { at: 'parked', latch: [true, true] }],
  ]).map((said) => said.split(' ')[0] as InvariantId);
  expect(ids).toEqual(['I1', 'I2', 'I5', 'I6', 'I12']);
});
