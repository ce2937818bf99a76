/** What the page says of the whole: the worst that is known leads, and what is not known never reads as dead. */
import { describe, expect, it } from 'vitest';
import { circuit, standFacts } from '../../../src/page/client/circuit.js';
import {
  DEAD as ASKED,
  nearVolts,
  potentialWords,
  sideState,
  situation,
} from '../../../src/page/client/situation.js';
import { PROVEN_SAFE } from '../../../src/supervisor/permission.js';
import { ABOUT, DEAD, proof, reading, snapshot } from './stand-in.js';

const meter = (over: Record<string, number | null>, stale = false) =>
  snapshot({ readings: { meter: reading({ ...DEAD, ...over }, stale), train: reading({ trainV: 0 }) } });

describe('a side of the circuit', () => {
  it('is under the touch-safe voltage only with every voltmeter of it read, fresh, and under', () => {
    expect(sideState(meter({}), 'output', 60).potential).toBe('under');
    expect(sideState(meter({ outputV: 60 }), 'output', 60).potential).toBe('under');
    for (const missing of ['outputV', 'outputPositiveV', 'outputNegativeV'])
      expect(sideState(meter({ [missing]: null }), 'output', 60).potential, missing).toBe('unknown');
    expect(sideState(meter({}, true), 'output', 60).potential).toBe('unknown');
    expect(sideState(snapshot({ readings: {} }), 'plug', 60).potential).toBe('unknown');
  });
  it('is live as soon as one of them is over, to chassis and below it too', () => {
    expect(sideState(meter({ outputV: 60.1 }), 'output', 60).potential).toBe('live');
    expect(sideState(meter({ outputV: null, outputNegativeV: -155 }), 'output', 60).potential).toBe('live');
    const converter = snapshot({ readings: { meter: reading(DEAD), converter: reading({ outputV: 700 }) } });
    expect(sideState(converter, 'output', 60).potential).toBe('live');
    expect(sideState(converter, 'plug', 60).potential).toBe('under');
  });
  it('tells which volts make it live, and that an old figure is old', () => {
    expect(potentialWords(sideState(meter({ plugV: 702.44 }), 'plug', 60), 60)).toBe('LIVE 702.4 V');
    expect(potentialWords(sideState(meter({ plugV: 3, plugNegativeV: -155 }), 'plug', 60), 60)).toBe(
      'LIVE 155.0 V to chassis',
    );
    expect(potentialWords(sideState(meter({ plugV: 702 }, true), 'plug', 60), 60)).toBe(
      'not known, last 702.0 V',
    );
    expect(potentialWords(sideState(snapshot({ readings: {} }), 'plug', 60), 60)).toBe('not known');
  });
});

describe('the state of the whole', () => {
  const word = (...args: Parameters<typeof meter>): string => situation(ABOUT, meter(...args)).word;

  it('says what is live, then what is not known, then that all is under', () => {
    expect(word({ plugV: 700, outputV: null })).toBe('LIVE');
    expect(word({ outputV: null })).toBe('NOT KNOWN');
    expect(word({})).toBe('UNDER 60 V');
    const train = snapshot({ readings: { meter: reading(DEAD), train: reading({ trainV: 690 }) } });
    expect(situation(ABOUT, train).word).toBe('TRAIN LIVE');
    const both = snapshot({ readings: { meter: reading(DEAD, true), train: reading({ trainV: 690 }) } });
    expect(situation(ABOUT, both).word).toBe('NOT KNOWN');
  });
  it('asks for the proofs that the supervisor asks for', () => {
    expect([...ASKED].sort()).toEqual([...PROVEN_SAFE].sort());
  });
  it('calls nothing proven dead without its proof', () => {
    expect(situation(ABOUT, meter({})).detail).toMatch(/^as read, not proven/);
    const names = ['open-p', 'open-n', 'output-dead', 'plug-dead', 'train-open'];
    const proven = { ...meter({}), proofs: names.map((name) => proof(name, 'standing')) };
    expect(situation(ABOUT, proven).detail).toMatch(/^proven dead/);
    for (const lacking of names) {
      const proofs = names.map((name) => proof(name, name === lacking ? 'lost' : 'standing'));
      expect(situation(ABOUT, { ...meter({}), proofs }).detail).toMatch(/^as read, not proven/);
    }
  });
  it('shows across the workshop the greatest volts near people, and none that would look harmless', () => {
    expect(nearVolts(meter({ outputV: 12, plugV: 310 }), 60)).toBe(310);
    expect(nearVolts(meter({ plugNegativeV: -155 }), 60)).toBe(155);
    expect(nearVolts(meter({}), 60)).toBe(2);
    expect(nearVolts(meter({ outputV: null }), 60)).toBeNull();
    expect(nearVolts(meter({ outputV: null, plugV: 700 }), 60)).toBe(700);
    expect(nearVolts(meter({ plugV: 700 }, true), 60)).toBeNull();
  });
  it('puts a trip before all, and keeping away before a trip', () => {
    expect(situation(ABOUT, { ...meter({ plugV: 700 }), tripped: true }).word).toBe('TRIPPED');
    expect(situation(ABOUT, { ...meter({}), tripped: true, phase: 'not-proven-dead' }).word).toBe(
      'KEEP AWAY',
    );
    const latch = { code: 'isolation-low', phase: 'holding', journal: 'j' };
    const latched = (provenDead: boolean | null) =>
      situation(ABOUT, { ...meter({}), latch: { ...latch, provenDead } });
    expect(latched(false).word).toBe('KEEP AWAY');
    expect(latched(null)).toMatchObject({ word: 'TRIP LATCHED', kind: 'warning' });
    expect(latched(null).detail).toMatch(/not known/);
    expect(latched(true).detail).toMatch(/^proven dead when it ended/);
  });
  it('has a shape of its own for each kind', () => {
    const shapes = [
      situation(ABOUT, meter({})),
      situation(ABOUT, meter({ plugV: 700 })),
      situation(ABOUT, meter({ plugV: null })),
      situation(ABOUT, { ...meter({}), tripped: true }),
    ].map((s) => s.shape);
    expect(new Set(shapes).size).toBe(4);
  });
});

describe('the parts of the circuit', () => {
  const contactors = (values: Record<string, number | null>, stale = false, proofs: string[] = []) =>
    circuit(
      ABOUT,
      snapshot({
        readings: { contactor: reading(values, stale) },
        proofs: proofs.map((name) => proof(name, 'made')),
      }),
    ).contactors.p;

  it('shows a pole as its auxiliary says, and proven only by a proof of that very position', () => {
    expect(contactors({ closedP: 1, coilP: 1 })).toMatchObject({
      contact: 'closed',
      proven: false,
      words: 'closed',
    });
    expect(contactors({ closedP: 1, coilP: 1 }, false, ['closed-p']).words).toBe('closed, proven');
    expect(contactors({ closedP: 1, coilP: 1 }, false, ['open-p']).proven).toBe(false);
    expect(contactors({ closedP: 0, coilP: 0 }, false, ['open-p']).words).toBe('open, proven');
    expect(contactors({ closedP: 0, coilP: 0 }, false, ['closed-p', 'poles-follow']).proven).toBe(false);
  });
  it('shows what is stale or missing as not known, whatever was proven', () => {
    expect(contactors({ closedP: 0, coilP: 0 }, true, ['open-p'])).toMatchObject({
      contact: 'unknown',
      proven: false,
      words: 'not known',
    });
    expect(contactors({ closedP: null, coilP: 0 }).contact).toBe('unknown');
  });
  it('says when coil and auxiliary differ', () => {
    expect(contactors({ closedP: 1, coilP: 0 })).toMatchObject({
      differs: true,
      words: 'closed, but not driven',
    });
    expect(contactors({ closedP: 0, coilP: 1 }).words).toBe('open, but driven');
    expect(contactors({ closedP: 0, coilP: null }).differs).toBe(false);
  });
  it('has a pre-charge contactor only where the rig has one', () => {
    expect(circuit(ABOUT, snapshot()).contactors.pre).toBeNull();
    const rig = { ...ABOUT.rig, matchesVoltage: false };
    expect(circuit({ ...ABOUT, rig }, snapshot()).contactors.pre).toMatchObject({ contact: 'unknown' });
  });
  it('takes rafts by their place and leaves out the figures of a silent one', () => {
    const rafts = circuit(
      ABOUT,
      snapshot({
        readings: {
          raft1: reading({ packV: 701, packA: 70, joined: 1, soc: 0.512, alarm: 0 }),
          raft2: reading({ packV: 701, packA: 70, joined: 1, soc: 0.512, alarm: 0 }, true),
        },
      }),
    ).rafts;
    expect(rafts[0]).toMatchObject({ name: 'fore', volts: '701.0 V', soc: '51.2 %', words: 'joined' });
    expect(rafts[1]).toMatchObject({
      name: 'aft',
      contact: 'unknown',
      volts: 'not read',
      soc: '',
      words: 'not known',
    });
  });
  it('marks at the stand what is wrong, not what is not known', () => {
    const facts = (chainClosed: number | null) =>
      standFacts(ABOUT, snapshot({ readings: { stop: reading({ chainClosed }) } })).find(
        (f) => f.name === 'Stop chain',
      );
    expect(facts(1)).toMatchObject({ words: 'closed', abnormal: false });
    expect(facts(0)).toMatchObject({ words: 'OPEN', abnormal: true });
    expect(facts(null)).toMatchObject({ words: 'not known', abnormal: false });
  });
});
