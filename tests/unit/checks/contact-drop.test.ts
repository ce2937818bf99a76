/** Drop across the contacts at full current, without any sensor in them. */
import { describe, expect, it } from 'vitest';
import { contactDrop, dropIsGood } from '../../../src/checks/contact-drop.js';
import { depot, Run, Scene } from './build.js';
import { feed } from './spoil.js';

function at(currentA: number, contactOhm: number, cableC = 70) {
  const scene = new Scene().charging(currentA);
  scene.meter.cableC = cableC;
  // W9 (IEC 60228, published): 95 mm², 40 m loop, 9.859 mΩ at 70 °C, 2.958 V at 300 A.
  scene.meter.plugV = scene.train.trainV + currentA * (9.859e-3 + 2 * contactOhm);
  return new Run(contactDrop, scene);
}

describe('contact drop', () => {
  it('finds nothing beyond the cable at W9', () => {
    const run = at(300, 0).reports(40);
    expect(run.failing).toEqual([]);
    expect(Math.abs(run.finding('contact-drop').reading)).toBeLessThan(0.003);
  });
  it('passes 0.3 mΩ and fails 0.4 mΩ at 300 A against 0.1 V', () => {
    expect(at(300, 0.3e-3).reports(40).failing).toEqual([]);
    const run = at(300, 0.4e-3).reports(40);
    expect(run.failing).toEqual(['contact-drop']);
    expect(run.finding('contact-drop').reading).toBeCloseTo(0.12, 2);
  });
  it('judges an average, not the first samples', () => {
    expect(at(300, 0.4e-3).reports(15).failing).toEqual([]);
  });
  it('keeps silent at a current too small to tell', () => {
    expect(at(20, 2e-3).reports(40).last.findings).toEqual([]);
  });
  it('leaves a contact that lifts to those who see it', () => {
    const run = at(300, 0).reports(40);
    run.reports(2, (s) => {
      s.meter.plugV = 790;
    });
    expect(run.failing).toEqual([]);
  });
  it('fails on volts that cannot be read', () => {
    expect(
      at(300, 0)
        .reports(40)
        .reports(6, (s) => {
          s.meter.plugV = Number.NaN;
        }).failing,
    ).toEqual(['contact-drop']);
  });
});

/** W9 at 70 °C; what the contacts lose at this sample, both together, on top. */
const dropped = (run: Run<unknown>, bothV: number, reports = 1) =>
  run.reports(reports, (s) => {
    s.meter.plugV = s.train.trainV + s.meter.currentA * 9.859e-3 + bothV;
  });
const reading = (run: Run<unknown>) => run.finding('contact-drop').reading;

describe('the average', () => {
  it('is judged from the twentieth sample on and fails after four of them', () => {
    expect(at(300, 0.4e-3).reports(22).failing).toEqual([]);
    expect(at(300, 0.4e-3).reports(23).failing).toEqual(['contact-drop']);
  });
  it('is the mean of the first twenty, and then of about a second', () => {
    const run = at(300, 0) as Run<unknown>;
    const zeroV = reading(dropped(run, 0));
    expect(reading(dropped(run, 0.4)) - zeroV).toBeCloseTo(0.1, 6);
    dropped(run, 0, 2);
    expect(reading(run) - zeroV).toBeCloseTo(0.05, 6);
    const long = at(300, 0) as Run<unknown>;
    dropped(long, 0, 40);
    // 50 ms of 1000: a twentieth of 0.4 V, half of it for each contact.
    expect(reading(dropped(long, 0.4)) - zeroV).toBeCloseTo(0.01, 6);
  });
  it('does not move by ticks', () => {
    const run = at(300, 0.4e-3).reports(18);
    for (let k = 0; k < 10; k++) run.tick(25);
    expect(run.reports(4).failing).toEqual([]);
    for (let k = 0; k < 10; k++) run.tick(25);
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['contact-drop']);
  });
  it.each([
    ['a current too small', (s: Scene) => s.amps(23.9)],
    ['volts that cannot be read', (s: Scene) => Object.assign(s.train, { trainV: Number.NaN })],
  ])('starts anew after %s', (_, spoil) => {
    const run = at(300, 0).reports(40);
    const good = { ...run.scene.meter, trainV: run.scene.train.trainV };
    expect(dropIsGood(run.state, false, depot)).toBe(true);
    run.reports(1, spoil);
    expect(dropIsGood(run.state, false, depot)).toBe(false);
    run.scene.amps(300);
    run.scene.train.trainV = good.trainV;
    run.reports(19);
    expect(dropIsGood(run.state, false, depot)).toBe(false);
    run.reports(1);
    expect(dropIsGood(run.state, false, depot)).toBe(true);
    expect(Math.abs(reading(run as Run<unknown>))).toBeLessThan(0.003);
  });
  it('takes a cable whose sensor is lost for 60 °C warm', () => {
    const run = at(300, 0, Number.NaN);
    // W9: 8.240 mΩ at 20 °C.
    run.scene.meter.plugV = 720 + 300 * 8.24e-3 * (1 + 0.00393 * 40);
    expect(reading(run.reports(20) as Run<unknown>)).toBeCloseTo(0, 6);
  });
});

describe('what it is held against', () => {
  const state = (bothV: number, currentA: number, samples = 20) => ({
    ...contactDrop.initial(depot),
    dropV: bothV,
    currentA,
    samples,
  });
  // 0.1 V; at the hold point the current's share of it and 50 mV of voltmeters, never more than 0.1 V.
  it.each([
    [0.2, 300, false, true],
    [0.2001, 300, false, false],
    [0.2, 30, false, true],
    [0.12, 30, true, true],
    [0.1201, 30, true, false],
    [0.2, 240, true, true],
    [0.2001, 240, true, false],
    [Number.NaN, 300, false, false],
  ])('%d V over both at %d A, at the hold point %s: good %s', (bothV, currentA, atHold, good) => {
    expect(dropIsGood(state(bothV, currentA), atHold, depot)).toBe(good);
    expect(dropIsGood(state(bothV, currentA, 19), atHold, depot)).toBe(false);
  });
  const told = (phase: 'ramping' | 'holding', setpointA: number, holdPointA: number) => {
    const scene = new Scene().charging(setpointA, phase);
    scene.governed.holdPointA = holdPointA;
    return new Run(contactDrop, scene).reports(1).finding('contact-drop').limit;
  };
  it('tells the limit of the hold point only while ramping and standing there', () => {
    expect(told('ramping', 30, 30)).toBeCloseTo(0.06, 9);
    expect(told('ramping', 240, 240)).toBe(0.1);
    expect(told('ramping', 60, 30)).toBe(0.1);
    expect(told('holding', 30, 30)).toBe(0.1);
  });
  it('averages the current it belongs to as it does the drop', () => {
    const scene = new Scene().charging(30, 'ramping');
    const run = new Run(contactDrop, scene);
    const limit = (currentA: number, reports = 1) =>
      run.reports(reports, (s) => s.amps(currentA)).finding('contact-drop').limit;
    const ofA = (currentA: number) => (0.1 * currentA) / 300 + 0.05;
    expect(limit(28)).toBeCloseTo(ofA(28), 9);
    expect(limit(32)).toBeCloseTo(ofA(30), 9);
    expect(limit(28, 400)).toBeCloseTo(ofA(28), 6);
    expect(limit(32)).toBeCloseTo(ofA(28.2), 6);
  });
});

describe('the difference of the voltmeters', () => {
  const still = (phase: 'matching-voltage' | 'pre-charging' | 'closing' | 'ramping' = 'closing') =>
    new Run(contactDrop, new Scene().charging(0, phase));
  const offset = (spoil: (s: Scene) => void, phase?: Parameters<typeof still>[0]) =>
    still(phase).reports(1, (s) => {
      s.meter.plugV = s.train.trainV + 2;
      spoil(s);
    }).state.offsetV;
  it.each([
    ['an ampere flows', (s: Scene) => s.amps(1), 2],
    ['an ampere flows back', (s: Scene) => s.amps(-1), 2],
    ['more flows', (s: Scene) => s.amps(1.1), Number.NaN],
    ['more flows back', (s: Scene) => s.amps(-1.1), Number.NaN],
    ['the current is unreadable', (s: Scene) => s.amps(Number.NaN), Number.NaN],
    ['it is 5 V', (s: Scene) => Object.assign(s.meter, { plugV: 725 }), 5],
    ['it is −5 V', (s: Scene) => Object.assign(s.meter, { plugV: 715 }), -5],
    ['it is beyond plausibility', (s: Scene) => Object.assign(s.meter, { plugV: 725.1 }), Number.NaN],
    ['it is unreadable', (s: Scene) => Object.assign(s.meter, { plugV: Number.NaN }), Number.NaN],
    ['the train is open at P', (s: Scene) => Object.assign(s.train, { closedP: 0 }), Number.NaN],
    ['the train is open at N', (s: Scene) => Object.assign(s.train, { closedN: 0 }), Number.NaN],
  ])('when %s', (_, spoil, volts) => {
    expect(offset(spoil)).toBe(volts);
  });
  it('is learned from matching to closing, not under current', () => {
    for (const phase of ['matching-voltage', 'pre-charging', 'closing'] as const)
      expect(offset(() => {}, phase)).toBe(2);
    expect(offset(() => {}, 'ramping')).toBeNaN();
  });
  it('is the mean of what was seen, and after forty samples follows slowly', () => {
    const run = still();
    run.reports(3, (s, k) => Object.assign(s.meter, { plugV: 721 + k }));
    expect(run.state.offsetV).toBeCloseTo(2, 9);
    run.tick(25);
    expect(run.state.offsetSamples).toBe(3);
    const long = still().reports(60);
    expect(long.reports(1, (s) => Object.assign(s.meter, { plugV: 724 })).state.offsetV).toBeCloseTo(
      4 / 40,
      9,
    );
  });
  it('is taken off, and forgotten when the poles open', () => {
    const run = still().reports(5, (s) => Object.assign(s.meter, { plugV: 721.5 }));
    run.scene.enter('holding').amps(300).meter.cableC = 70;
    run.scene.meter.plugV = 721.5 + 300 * 9.859e-3;
    expect(reading(run.reports(20) as Run<unknown>)).toBeCloseTo(0, 3);
    run.scene.enter('opening');
    expect(run.reports(1).last.findings).toEqual([]);
    expect(run.state.offsetV).toBeNaN();
    expect(run.state.samples).toBe(0);
  });
  it('is not learned without a meter or a train', () => {
    expect(feed(still(), { meter: null }).state.offsetV).toBeNaN();
    expect(feed(still(), { train: null }).state.offsetV).toBeNaN();
  });
});

describe('when it speaks', () => {
  it('from 8 % of the rating on: 24 A', () => {
    expect(at(24, 0).reports(1).last.findings).toHaveLength(1);
    expect(at(23.9, 0).reports(1).last.findings).toEqual([]);
    expect(at(Number.NaN, 0).reports(1).last.findings).toEqual([]);
  });
  it.each(['ramping', 'holding', 'tapering', 'ramping-down', 'tripped-ramping-down'] as const)(
    'while %s',
    (phase) => {
      const run = at(300, 0.4e-3);
      run.scene.enter(phase);
      expect(run.reports(23).failing).toEqual(['contact-drop']);
    },
  );
  it.each(['joining-train', 'closing', 'opening', 'making-safe'] as const)('not while %s', (phase) => {
    const run = at(300, 0.4e-3);
    run.scene.enter(phase);
    expect(run.reports(30).last.findings).toEqual([]);
  });
  it('not without meter or train, nor on a train older than 2 s', () => {
    const run = at(300, 0).reports(30);
    expect(feed(run, { meter: null }).findings).toEqual([]);
    expect(feed(run, { train: null }).findings).toEqual([]);
    run.reports(1).scene.frozen.add('train');
    expect(run.reports(40).last.findings).toHaveLength(1);
    expect(run.reports(1).last.findings).toEqual([]);
  });
  it('one unreadable sample is not judged as four', () => {
    const run = at(300, 0).reports(40);
    const { plugV } = run.scene.meter;
    expect(run.reports(3, (s) => Object.assign(s.meter, { plugV: Number.NaN })).failing).toEqual([]);
    expect(run.reports(1, (s) => Object.assign(s.meter, { plugV })).failing).toEqual([]);
    expect(run.reports(30).failing).toEqual([]);
  });
});
