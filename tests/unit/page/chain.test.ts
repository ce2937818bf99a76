/** The chain of proofs in words, what is missing, what is offered to whom, and how figures are written. */
import { describe, expect, it } from 'vitest';
import { chain, whatIsMissing } from '../../../src/page/client/chain.js';
import {
  acknowledgeNote,
  controlActs,
  controlNote,
  mayMakeFaults,
  offerable,
  ordersFor,
} from '../../../src/page/client/offers.js';
import { against, age, figure, lasting, sessionTime } from '../../../src/page/client/words.js';
import { ABOUT, CONTROL, person, proof, snapshot, statement } from './stand-in.js';

describe('the chain', () => {
  it('keeps the order of the chain and takes what is not told for later', () => {
    const links = chain(
      ABOUT,
      snapshot({ proofs: [proof('closed-p', 'missing'), proof('secured', 'standing')] }),
    );
    expect(links.map((l) => [l.proof, l.word])).toEqual([
      ['secured', 'holds'],
      ['isolation-dead', 'later'],
      ['closed-p', 'missing'],
    ]);
    expect(links[1]?.age).toBe('');
  });
  it('puts failing figures first, with what the code means', () => {
    const fine = statement({ failing: false, reading: 2e6 });
    const [, link] = chain(
      ABOUT,
      snapshot({ proofs: [proof('isolation-dead', 'lost', [fine, statement({ part: 'cable' })])] }),
    );
    expect(link?.figures.map((f) => f.failing)).toEqual([true, false]);
    expect(link?.figures[0]?.text).toBe(
      'cable: isolation is too low: reads 20.1 kΩ, limit 81 kΩ (isolation.minOhmPerVolt)',
    );
  });
  it('gives every state a shape of its own', () => {
    const states = ['standing', 'made', 'lost', 'missing', 'later', 'not-needed'] as const;
    const shapes = states.map((s) => chain(ABOUT, snapshot({ proofs: [proof('secured', s)] }))[0]?.shape);
    expect(new Set(shapes).size).toBe(states.length);
  });
});

describe('what is missing', () => {
  const running = { phase: 'checking-isolation', running: 'start' } as const;

  it('names the proof, its failing figure once, and what would permit it', () => {
    const missing = whatIsMissing(
      ABOUT,
      snapshot({
        ...running,
        proofs: [proof('secured', 'standing'), proof('isolation-dead', 'missing', [statement()])],
        findings: [statement()],
      }),
    );
    expect(missing.headline).toBe('Missing before checking isolation can go on: both sides isolated');
    expect(missing.items).toHaveLength(1);
    expect(missing.items[0]?.remedy).toBe('find the leak');
  });
  it('counts a lost proof as missing', () => {
    const { headline } = whatIsMissing(ABOUT, snapshot({ ...running, proofs: [proof('secured', 'lost')] }));
    expect(headline).toMatch(/train held$/);
  });
  it('names the next proof where nothing is missing', () => {
    const { headline } = whatIsMissing(
      ABOUT,
      snapshot({ ...running, proofs: [proof('secured', 'standing')] }),
    );
    expect(headline).toMatch(/Nothing is missing.*Next proof: both sides isolated/);
  });
  it('says what stands in the way of a start, and a trip before that', () => {
    expect(whatIsMissing(ABOUT, snapshot()).headline).toMatch(/Next: an order to start/);
    expect(whatIsMissing(ABOUT, snapshot({ findings: [statement()] })).headline).toMatch(
      /In the way of a start/,
    );
    const latch = { code: 'x', phase: 'holding', journal: 'j', provenDead: true };
    expect(whatIsMissing(ABOUT, snapshot({ latch })).headline).toMatch(/must acknowledge/);
  });
});

describe('what is offered', () => {
  const [ada, ben, cleo] = [person('Ada', 'engineer'), person('Ben', 'operator'), person('Cleo', 'watcher')];

  it('is trip now to everybody, and every other order to operators and engineers', () => {
    expect(ordersFor(cleo)).toEqual(['trip-now']);
    expect(ordersFor(ben)).toEqual(ordersFor(ada));
    expect(ordersFor(ben)).toHaveLength(7);
    expect(mayMakeFaults(ben, ABOUT)).toBe(false);
    expect(mayMakeFaults(ada, ABOUT)).toBe(true);
    expect(mayMakeFaults(ada, { ...ABOUT, simulated: false })).toBe(false);
  });
  it('is control, as it stands between people', () => {
    expect(controlActs(ada, CONTROL)).toEqual(['release', 'offer']);
    expect(controlActs(ben, CONTROL)).toEqual(['take']);
    expect(controlActs(ben, { ...CONTROL, offeredTo: 'Ben' })).toEqual(['accept']);
    expect(controlActs(cleo, { ...CONTROL, holder: null })).toEqual([]);
    expect(offerable(ada, CONTROL)).toEqual(['Ben']);
  });
  it('is told beforehand where it will be refused', () => {
    expect(controlNote(ada, CONTROL)).toBeNull();
    expect(controlNote(ben, CONTROL)).toMatch(/^Ada holds control/);
    expect(controlNote(ben, { ...CONTROL, holder: null })).toMatch(/^Nobody/);
    const latch = { code: 'x', phase: 'holding', journal: 'j', provenDead: true };
    expect(acknowledgeNote(person('Ben', 'operator', true), ABOUT, snapshot({ latch }))).toMatch(
      /own machine/,
    );
    expect(acknowledgeNote(ben, ABOUT, snapshot({ latch }))).toBeNull();
    expect(acknowledgeNote(ben, ABOUT, snapshot())).toBe('No trip is latched.');
  });
});

describe('figures', () => {
  it('never writes what cannot be read as a number', () => {
    for (const nothing of [null, undefined, Number.NaN]) expect(figure(nothing, 'V')).toBe('not read');
    expect(figure(0, 'V')).toBe('0.0 V');
  });
  it('scales resistances and shares', () => {
    expect(figure(1_250, 'ohm')).toBe('1.25 kΩ');
    expect(figure(842, 'ohm')).toBe('842 Ω');
    expect(figure(1.9e6, 'ohm')).toBe('1.9 MΩ');
    expect(figure(0.043, 'ohm')).toBe('0.043 Ω');
    expect(figure(0.512, 'share')).toBe('51.2 %');
    expect(figure(1, '')).toBe('1');
  });
  it('tells ages and times', () => {
    expect([90, 3210, 59_999, 60_000, 3_600_000].map((ms) => age(ms))).toEqual([
      '90 ms old',
      '3.2 s old',
      '59 s old',
      '1 min old',
      '1 h old',
    ]);
    expect(age(null)).toBe('age not known');
    expect(sessionTime(247_250, true)).toBe('4:07.250');
    expect(sessionTime(3_847_000)).toBe('1:04:07');
    expect(sessionTime(59_999, true)).toBe('0:59.999');
    expect(sessionTime(59_999)).toBe('1:00');
    expect(sessionTime(null)).toBe('–');
    expect(lasting(725)).toBe('12 min 5 s');
  });
  it('holds a reading against its limit and names the setting', () => {
    expect(against(statement())).toBe('reads 20.1 kΩ, limit 81 kΩ (isolation.minOhmPerVolt)');
    expect(against({ reading: null, limit: null, unit: '', setting: '' })).toBe('');
    expect(against({ reading: null, limit: 60, unit: 'V', setting: '' })).toBe(
      'reads not read, limit 60.0 V',
    );
  });
});
