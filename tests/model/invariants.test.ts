/** What may be made live, and when: the list of invariants, I1, I2, I5 and I12, each kept and broken by one step. */
import { describe, expect, it } from 'vitest';
import { INVARIANT_IDS, INVARIANTS, type InvariantId } from '../../machines/invariant-list.js';
import { isEnd, NOTHING_YET } from '../../machines/invariants.js';
import {
  AUTHORISED,
  AUTHORITIES,
  breaks,
  CLOSED,
  CONTACTORS,
  ENDS,
  ENERGISING,
  type EventType,
  JOINED,
  judge,
  keeps,
  PROVEN,
  provenBut,
  READY,
  type Row,
  remembered,
  rowsOf,
  START,
} from './steps.js';

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

it('remembers nothing at first, each thing by its name: the exploration tells states apart by them', () => {
  const all = remembered(...AUTHORISED, ['end', ['ramp-down']], ['proven-dead'], ['trip-0', ['make-safe']]);
  expect(Object.keys(NOTHING_YET)).toEqual(expect.arrayContaining(Object.keys(all)));
  expect(Object.values(NOTHING_YET).filter((known) => known !== false)).toEqual([]);
});

it('tells every invariant one step breaks, each in its order', () => {
  const ids = judge([
    ['start', ['close-p', 'authorise-full', 'unlock'], { at: 'parked', latch: [true, true] }],
  ]).map((said) => said.split(' ')[0] as InvariantId);
  expect(ids).toEqual(['I1', 'I2', 'I5', 'I6', 'I12']);
});
