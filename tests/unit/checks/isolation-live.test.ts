/** The joined network: two positions measured as asked, the figures, stored charge, and when it starts anew. */
import { describe, expect, it } from 'vitest';
import { isolationLive, measuredOk } from '../../../src/checks/isolation-live.js';
import { solveUnfavourably } from '../../../src/checks/known-resistor.js';
import { PHASES, type Phase } from '../../../src/rig/roles.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, Run, Scene } from './build.js';
import { type Leaks, Poles } from './network.js';

const SOUND: Leaks = { positiveOhm: 2e6, negativeOhm: 2e6, capacitanceF: 240e-9 };

function live(leaks: Leaks, reports: number, scene = new Scene().charging(0, 'joining-train')) {
  const poles = new Poles(720, leaks);
  const run = new Run(isolationLive, scene);
  const asked: number[] = [];
  const step = (s: Scene): void => {
    const ask = run.last.ask ?? { point: 0, resistor: 0 };
    if (ask.point !== s.isolation.point || ask.resistor !== s.isolation.resistor) {
      Object.assign(s.isolation, ask);
      s.order('isolation', { isolationPoint: ask.point, isolationResistor: ask.resistor });
      asked.push(ask.resistor);
    }
    poles.step(s, 50);
  };
  run.reports(reports, step);
  return { run, poles, asked, step };
}

describe('isolation of the live network', () => {
  it('switches the resistor to positive, negative and off, and proves', () => {
    const { run, asked } = live(SOUND, 40);
    expect(asked.slice(0, 4)).toEqual([0, 1, 2, 0]);
    expect(run.proofs).toEqual(['isolation-joined']);
    const ohm = run.finding('isolation-low').reading;
    expect(ohm).toBeLessThan(2e6);
    expect(ohm).toBeGreaterThan(1.6e6);
  });
  it.each([
    ['P', 50e3, 2e6],
    ['N', 2e6, 50e3],
    ['both', 60e3, 60e3],
  ])('finds the leak of %s', (part, positiveOhm, negativeOhm) => {
    const { run } = live({ ...SOUND, positiveOhm, negativeOhm }, 40);
    expect(run.failing).toEqual([`isolation-low/${part}`]);
    const lower = Math.min(positiveOhm, negativeOhm);
    expect(Math.abs(run.finding('isolation-low').reading / lower - 1)).toBeLessThan(0.05);
    expect(run.proofs).toEqual([]);
  });
  it('estimates the stored charge: 240 nF at 720 V pass, 1 µF do not (0.2 J, W6 scaled to 720 V)', () => {
    const sound = live(SOUND, 40).run.finding('stored-charge');
    expect(Math.abs(sound.reading / (0.5 * 240e-9 * 720 ** 2) - 1)).toBeLessThan(0.25);
    const { run } = live({ ...SOUND, capacitanceF: 1e-6 }, 60);
    expect(run.failing).toEqual(['stored-charge']);
    expect(Math.abs(run.finding('stored-charge').reading / (0.5 * 1e-6 * 720 ** 2) - 1)).toBeLessThan(0.15);
  });
  it('waits for a raft on the bus and starts anew when another joins', () => {
    const scene = new Scene().charging(0, 'joining-train');
    for (const r of scene.rafts) r.joined = 0;
    const { run, step } = live(SOUND, 20, scene);
    expect(run.last.ask).toBeUndefined();
    scene.rafts[0]!.joined = 1;
    run.reports(40, step);
    expect(run.proofs).toEqual(['isolation-joined']);
    scene.rafts[1]!.joined = 1;
    expect(run.reports(1, step).proofs).toEqual([]);
    expect(run.reports(40, step).proofs).toEqual(['isolation-joined']);
  });
  it('measures at once when the balance shifts, long before its turn', () => {
    const scene = new Scene().charging(200);
    const { run, poles, step } = live(SOUND, 40, scene);
    run.reports(90, step);
    expect(run.failing).toEqual([]);
    poles.leaks = { ...SOUND, positiveOhm: 20e3 };
    run.reports(40, step);
    expect(run.failing).toEqual(['isolation-low/P']);
  });
  it('is unproven when the device does not do as asked', () => {
    const run = new Run(isolationLive, new Scene().charging(200)).reports(130);
    expect(run.failing).toEqual(['isolation-unproven/joined']);
  });
});

/** Pole volts at rest with the resistor at this position, 10 MΩ of voltmeter beside each leak of a 720 V pack. */
function atRest(resistor: number, positiveOhm: number, negativeOhm: number) {
  const p = 1 / positiveOhm + 1 / 10e6 + (resistor === 1 ? 1 / 75e3 : 0);
  const n = 1 / negativeOhm + 1 / 10e6 + (resistor === 2 ? 1 / 75e3 : 0);
  return { positiveV: (720 * n) / (p + n), negativeV: (-720 * p) / (p + n) };
}

/** A device that does as asked one report later and shows volts at rest at once. */
class Obedient {
  readonly run;
  readonly asked: number[] = [];
  obeys = true;
  constructor(
    readonly scene = new Scene().charging(0, 'joining-train'),
    public positiveOhm = 2e6,
    public negativeOhm = 2e6,
  ) {
    this.run = new Run(isolationLive, scene);
    Object.assign(scene.isolation, { point: 3, resistor: 0, ...atRest(0, positiveOhm, negativeOhm) });
  }
  reports(count: number, apartMs = 50): this {
    for (let k = 0; k < count; k++) {
      const ask = this.run.last.ask;
      const { isolation } = this.scene;
      if (this.obeys && ask !== undefined && ask.resistor !== isolation.resistor) {
        isolation.resistor = ask.resistor;
        this.scene.order('isolation', { isolationResistor: ask.resistor });
      }
      Object.assign(isolation, atRest(isolation.resistor, this.positiveOhm, this.negativeOhm));
      this.scene.meter.plugPositiveV = isolation.positiveV;
      this.scene.meter.plugNegativeV = isolation.negativeV;
      this.run.burst(1, apartMs);
      this.asked.push(this.run.last.ask?.resistor ?? -1);
    }
    return this;
  }
}
/** 300 ms of a quiet network, then four samples of each position: the report with which it is done. */
const DONE = 7 + 4 + 4;
const measured = (scene?: Scene, positiveOhm?: number, negativeOhm?: number) =>
  new Obedient(scene, positiveOhm, negativeOhm).reports(DONE);
const isolated = (change: Partial<Rig['isolation']>): Rig => ({
  ...depot,
  isolation: { ...depot.isolation, ...change },
});

describe('one measurement', () => {
  it('waits 300 ms, takes four samples on each pole, and lets go', () => {
    const device = new Obedient().reports(DONE - 1);
    expect(device.asked).toEqual([0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2]);
    expect(device.run.last.ask).toEqual({ point: 3, resistor: 2 });
    expect(device.run.proofs).toEqual([]);
    device.reports(1);
    expect(device.asked.at(-1)).toBe(0);
    expect(device.run.proofs).toEqual(['isolation-joined']);
  });
  it('has the unfavourable figure: each ratio off by 0.4 % and a quarter of a volt', () => {
    for (const figure of ['lower-pole', 'parallel'] as const) {
      const device = measured(new Scene(isolated({ figure })).charging(0, 'joining-train'), 300e3, 900e3);
      const [a, b] = [1, 2].map((resistor) => {
        const { positiveV, negativeV } = atRest(resistor, 300e3, 900e3);
        return { tMs: 0, positiveV, negativeV: -negativeV };
      });
      const worst = solveUnfavourably(a!, b!, 75e3, 10e6, 0.004, 0.25);
      const expected = figure === 'parallel' ? worst.parallelOhm : worst.lowerOhm;
      expect(device.run.finding('isolation-low').reading / expected).toBeCloseTo(1, 9);
    }
  });
  it('bounds the stored energy by what the first sample after the switch tells', () => {
    const { run } = measured();
    // Within one period of 50 ms all but the noise of 0.4 % of 720 V is gone.
    const swingV = Math.abs(atRest(1, 2e6, 2e6).positiveV - atRest(2, 2e6, 2e6).positiveV);
    const tauS = 0.05 / Math.log(swingV / (0.004 * 720));
    const conductanceS = 2 / 2e6 + 2 / 10e6 + 1 / 75e3;
    expect(run.finding('stored-charge').reading).toBeCloseTo(0.5 * tauS * conductanceS * 720 * 720, 9);
    expect(run.finding('stored-charge')).toMatchObject({
      failing: false,
      limit: 0.2,
      unit: 'J',
      setting: 'isolation.maxStoredJ',
      sinceMs: run.scene.nowMs,
    });
  });
  it('waits five time constants of the network the rig states', () => {
    // 75 kΩ, doubled, and 1.08 µF: 810 ms, so eighteen samples of each position.
    const network = { ...depot.isolation.network, trainF: 1e-6 };
    const device = new Obedient(new Scene(isolated({ network })).charging(0, 'joining-train'));
    device.reports(7 + 18 + 17);
    expect(device.run.last.ask?.resistor).toBe(2);
    expect(device.reports(1).run.last.ask?.resistor).toBe(0);
  });
  it('takes at least 150 ms on a pole however quick the reports', () => {
    const device = new Obedient();
    device.reports(1).reports(1, 300).reports(15, 10);
    expect(device.run.last.ask?.resistor).toBe(1);
    expect(device.reports(1, 10).run.last.ask?.resistor).toBe(2);
  });
  it('begins a position anew when the device is elsewhere', () => {
    for (const spoilt of [{ point: 2 }, { resistor: 0 }, { resistor: 2 }]) {
      const device = new Obedient().reports(7 + 3);
      const right = { ...device.scene.isolation };
      device.obeys = false;
      Object.assign(device.scene.isolation, spoilt);
      device.reports(1);
      Object.assign(device.scene.isolation, right);
      expect(device.reports(3).run.last.ask?.resistor).toBe(1);
      expect(device.reports(1).run.last.ask?.resistor).toBe(2);
    }
  });
  it('takes no sample twice', () => {
    const device = new Obedient().reports(7 + 3);
    device.scene.frozen.add('isolation');
    expect(device.reports(5).run.last.ask?.resistor).toBe(1);
  });
  it.each([
    { positiveOhm: 50e3, negativeOhm: 110e3, part: 'P' },
    { positiveOhm: 50e3, negativeOhm: 90e3, part: 'both' },
    { positiveOhm: 90e3, negativeOhm: 50e3, part: 'both' },
    { positiveOhm: 110e3, negativeOhm: 50e3, part: 'N' },
  ])('names $part of $positiveOhm Ω and $negativeOhm Ω', ({ positiveOhm, negativeOhm, part }) => {
    const device = measured(undefined, positiveOhm, negativeOhm);
    const doneMs = device.scene.nowMs;
    expect(device.run.failing).toEqual([`isolation-low/${part}`]);
    expect(device.reports(3).run.finding('isolation-low')).toMatchObject({
      sinceMs: doneMs,
      limit: 81_000,
      unit: 'ohm',
    });
    // Poles that swing too fast to be timed hold no charge worth a word.
    expect(device.run.finding('stored-charge').failing).toBe(false);
    expect(device.run.proofs).toEqual([]);
  });
  it('names no part while sound', () => {
    const { run } = measured();
    expect(run.finding('isolation-low')).toMatchObject({ part: 'joined', sinceMs: run.scene.nowMs });
  });
});

describe('what passes', () => {
  const leakage = { positiveOhm: 1e6, negativeOhm: 1e6, parallelOhm: 5e5, lowerOhm: 1e6, totalS: 1e-5 };
  const result = (figureOhm: number, storedJ: number) => ({
    startedMs: 0,
    doneMs: 0,
    leakage,
    figureOhm,
    storedJ,
  });
  it.each([
    { figureOhm: 81_000, storedJ: 0.2, ok: true },
    { figureOhm: 80_999, storedJ: 0.2, ok: false },
    { figureOhm: 81_000, storedJ: 0.2001, ok: false },
    { figureOhm: Number.NaN, storedJ: 0.1, ok: false },
    { figureOhm: 81_000, storedJ: Number.NaN, ok: false },
  ])('$figureOhm Ω and $storedJ J: $ok', ({ figureOhm, storedJ, ok }) => {
    expect(measuredOk(result(figureOhm, storedJ), depot)).toBe(ok);
    const state = { ...measured(new Scene().charging(100)).run.state, last: result(figureOhm, storedJ) };
    const scene = new Scene().charging(100);
    const { findings, proofs } = isolationLive.run(state, scene.report(), depot);
    expect(findings.some((f) => f.failing && f.code !== 'isolation-unproven')).toBe(!ok);
    if (!ok) expect(proofs).toEqual([]);
  });
  it('is nothing without a measurement', () => {
    expect(measuredOk(null, depot)).toBe(false);
  });
  it('lasts only while the device is heard', () => {
    const { run } = measured();
    expect(run.tick(depot.link.slowReadingMs).proofs).toEqual(['isolation-joined']);
    expect(run.tick(1).proofs).toEqual([]);
  });
});

describe('when it measures', () => {
  const charging = (phase: Phase = 'holding') => measured(new Scene().charging(100, phase));
  it('every 10 s from the beginning of the one before', () => {
    const device = charging();
    // It began with the seventh report.
    device.reports(200 - (DONE - 7) - 1);
    expect(device.asked.at(-1)).toBe(0);
    device.reports(1);
    expect(device.asked.at(-1)).toBe(1);
  });
  it.each(['closing', 'pre-charging'] as const)('not while %s: a network about to change', (phase) => {
    const device = charging();
    device.scene.enter(phase);
    device.reports(220);
    expect(new Set(device.asked.slice(DONE))).toEqual(new Set([0]));
    device.scene.enter('ramping');
    expect(device.reports(1).asked.at(-1)).toBe(1);
  });
  it.each(['ramping-down', 'tripped-ramping-down'] as const)(
    'nothing new while %s, the figures stand',
    (phase) => {
      const device = charging();
      device.scene.enter(phase);
      device.reports(210);
      expect(new Set(device.asked.slice(DONE))).toEqual(new Set([-1]));
      expect(device.run.proofs).toEqual(['isolation-joined']);
      expect(device.run.last.findings.map((f) => f.code)).toEqual(['isolation-low', 'stored-charge']);
      expect(device.run.tick(depot.link.slowReadingMs + 1).proofs).toEqual([]);
      // One under way is given up: no resistor is switched in there again.
      device.scene.enter('holding');
      device.reports(1);
      expect(device.asked.at(-1)).toBe(1);
      device.scene.enter(phase);
      device.reports(1);
      expect(device.run.state).toMatchObject({ step: 'idle', window: [], wanted: false });
    },
  );
  it('a low figure stands while ramping down and proves nothing', () => {
    const device = measured(new Scene().charging(100), 50e3, 2e6);
    device.scene.enter('ramping-down');
    expect(device.reports(1).run.failing).toEqual(['isolation-low/P']);
    expect(device.run.proofs).toEqual([]);
  });
  it('in its phases alone', () => {
    const spoken = PHASES.filter(
      (phase) => new Obedient(new Scene().charging(0, phase)).reports(1).run.last.findings.length > 0,
    );
    const from = PHASES.indexOf('joining-train');
    // Running down it has something to say only after a measurement.
    expect(spoken).toEqual(PHASES.slice(from, PHASES.indexOf('ramping-down')));
    for (const phase of ['opening', 'parked', 'checking-isolation'] as const) {
      const device = charging();
      device.scene.enter(phase);
      expect(device.reports(1).run.state).toEqual(isolationLive.initial(depot));
      expect(device.run.proofs).toEqual([]);
    }
  });
});

describe('time', () => {
  it('is 5 s for a measurement, told to the report', () => {
    const device = new Obedient(new Scene().charging(100));
    device.obeys = false;
    device.reports(7 + 100);
    expect(device.run.failing).toEqual([]);
    expect(device.run.finding('isolation-unproven')).toMatchObject({
      reading: 5,
      limit: 5,
      unit: 's',
      setting: 'isolation.checkMaxS',
      part: 'joined',
    });
    device.reports(1);
    expect(device.run.failing).toEqual(['isolation-unproven/joined']);
    expect(device.run.finding('isolation-unproven').reading).toBeCloseTo(5.05, 9);
  });
  it('is 15 s since the last result, though the next never began', () => {
    const device = measured(new Scene().charging(100));
    device.scene.enter('closing');
    device.reports(300);
    expect(device.run.failing).toEqual([]);
    expect(device.run.finding('isolation-unproven').reading).toBeCloseTo(15, 9);
    expect(device.run.proofs).toEqual(['isolation-joined']);
    device.reports(1);
    expect(device.run.failing).toEqual(['isolation-unproven/joined']);
    expect(device.run.proofs).toEqual([]);
  });
});

describe('the network', () => {
  const changes = [
    ['contactor P', (s: Scene) => Object.assign(s.contactor, { closedP: 0 })],
    ['contactor N', (s: Scene) => Object.assign(s.contactor, { closedN: 0 })],
    ['a raft', (s: Scene) => Object.assign(s.rafts[1]!, { joined: 0 })],
  ] as const;
  it.each(changes)('changed by %s voids what is under way and is measured anew once quiet', (_, change) => {
    const device = new Obedient(new Scene().charging(100)).reports(7 + 4 + 2);
    change(device.scene);
    device.reports(1);
    expect(device.run.last.ask?.resistor).toBe(0);
    device.reports(5);
    expect(device.asked.at(-1)).toBe(0);
    device.reports(1);
    expect(device.asked.at(-1)).toBe(1);
    device.reports(8);
    expect(device.run.proofs).toEqual(['isolation-joined']);
  });
  it.each(changes)(
    'changed by %s leaves an earlier figure standing, but not while rafts still join',
    (_, change) => {
      const device = measured(new Scene().charging(100));
      change(device.scene);
      expect(device.reports(1).run.proofs).toEqual(['isolation-joined']);
      // Nothing was under way, so the next comes in its turn.
      device.reports(8);
      expect(device.asked.at(-1)).toBe(0);
      const joining = measured();
      change(joining.scene);
      expect(joining.reports(1).run.proofs).toEqual([]);
      expect(joining.run.last.findings.map((f) => f.code)).toEqual(['isolation-unproven']);
      expect(joining.reports(DONE - 1).run.proofs).toEqual(['isolation-joined']);
    },
  );
  it.each([
    ['without the positive train contactor', (s: Scene) => Object.assign(s.train, { closedP: 0 }), false],
    ['without the negative one', (s: Scene) => Object.assign(s.train, { closedN: 0 }), false],
    ['at 60 V', (s: Scene) => Object.assign(s.train, { trainV: 60 }), false],
    ['at -60 V', (s: Scene) => Object.assign(s.train, { trainV: -60 }), false],
    ['above 60 V', (s: Scene) => Object.assign(s.train, { trainV: 60.1 }), true],
    ['the wrong way round', (s: Scene) => Object.assign(s.train, { trainV: -720 }), true],
    ['at a voltage that cannot be read', (s: Scene) => Object.assign(s.train, { trainV: Number.NaN }), false],
    ['without a raft', (s: Scene) => s.rafts.map((r) => Object.assign(r, { joined: 0 })), false],
    ['with one raft', (s: Scene) => s.rafts.slice(1).map((r) => Object.assign(r, { joined: 0 })), true],
  ] as const)('%s is live: %#', (_, change, isLive) => {
    const device = measured();
    change(device.scene);
    device.reports(1);
    expect(device.run.last.ask !== undefined).toBe(isLive);
    expect(device.run.last.findings.length > 0).toBe(isLive);
    if (!isLive) expect(device.run.proofs).toEqual([]);
  });
  it('counts as quiet from when it became what it is, live or not', () => {
    const scene = new Scene().charging(0, 'joining-train');
    scene.train.trainV = 0;
    const device = new Obedient(scene).reports(10);
    scene.train.trainV = 720;
    expect(device.reports(1).asked.at(-1)).toBe(1);
  });
  it('says nothing without train or contactor readings, and goes on without a meter', () => {
    for (const role of ['train', 'isolation'] as const) {
      const { run } = measured();
      const blind = isolationLive.run(run.state, { ...run.scene.report(), [role]: null }, depot);
      expect(blind.proofs ?? []).toEqual([]);
    }
    const underWay = new Obedient().reports(8).run;
    const unheard = isolationLive.run(underWay.state, { ...underWay.scene.report(), isolation: null }, depot);
    expect(unheard.ask).toEqual({ point: 3, resistor: 1 });
    const { run } = measured();
    const noContactor = isolationLive.run(run.state, { ...run.scene.report(), contactor: null }, depot);
    expect(noContactor.proofs).toEqual([]);
    const noMeter = isolationLive.run(run.state, { ...run.scene.report(), meter: null }, depot);
    expect(noMeter.proofs).toEqual(['isolation-joined']);
  });
});

describe('the balance of the poles', () => {
  /** Measured, and more than the 3 s quiet in which the poles may swing back. */
  const settled = () => measured(new Scene().charging(100)).reports(63);
  /** Reports in which the positive pole has this share of the voltage. */
  const shares = (device: Obedient, ...list: number[]) => {
    for (const share of list) {
      Object.assign(device.scene.meter, { plugPositiveV: 720 * share, plugNegativeV: 720 * (share - 1) });
      device.run.reports(1);
    }
    return device.run.last.ask?.resistor;
  };
  it('shifted by more than 5 % in two samples is measured at once', () => {
    expect(shares(settled(), 0.551)).toBe(0);
    expect(shares(settled(), 0.551, 0.551)).toBe(1);
    expect(shares(settled(), 0.449, 0.449)).toBe(1);
    expect(shares(settled(), 0.549, 0.549, 0.549)).toBe(0);
  });
  it('shifted for one sample only, or unreadable, is not', () => {
    expect(shares(settled(), 0.6, 0.5, 0.6, 0.5)).toBe(0);
    expect(shares(settled(), Number.NaN, Number.NaN, Number.NaN)).toBe(0);
    expect(shares(settled(), 0.6, Number.NaN, 0.6)).toBe(1);
  });
  it('follows a slow drift by a twentieth of what is left, each sample once', () => {
    // Nine samples of 0.54 bring 0.5 to 0.54 − 0.04 · 0.95⁹ = 0.5148: 0.565 is then no shift.
    const drift = Array.from({ length: 9 }, () => 0.54);
    expect(shares(settled(), ...drift, 0.564, 0.564)).toBe(0);
    expect(shares(settled(), 0.564, 0.564)).toBe(1);
    const device = settled();
    shares(device, 0.6);
    device.scene.frozen.add('meter');
    expect(device.run.reports(3).last.ask?.resistor).toBe(0);
  });
  it('says nothing until 3 s after the resistor was let go', () => {
    const device = measured(new Scene().charging(100));
    device.reports(1);
    // The order to let go went out before that report: sixty of them are 3 s, the next is beyond.
    expect(shares(device, ...Array.from({ length: 59 }, () => 0.6))).toBe(0);
    expect(device.run.state.shifted).toBe(0);
    expect(shares(device, 0.6)).toBe(0);
    expect(shares(device, 0.6)).toBe(1);
  });
  it('says nothing while a resistor is or may be connected', () => {
    for (const disturb of [
      (d: Obedient) => Object.assign(d.scene.isolation, { resistor: 1 }),
      (d: Obedient) => Object.assign(d.scene.ordered, { isolationResistor: 2 }),
    ]) {
      const device = settled();
      disturb(device);
      expect(shares(device, 0.6, 0.6, 0.6)).toBe(0);
    }
  });
  it('after a shift is taken as it is', () => {
    const device = settled();
    expect(shares(device, 0.7, 0.7)).toBe(1);
    expect(device.run.state.balance).toBeCloseTo(0.7, 12);
    expect(device.run.state.shifted).toBe(0);
  });
  it('asked for a measurement that a changed network voids: it is asked again, not left to its turn', () => {
    const device = settled();
    expect(shares(device, 0.6, 0.6)).toBe(1);
    device.scene.rafts[0]!.joined = 0;
    device.reports(1);
    expect(device.reports(5).asked.at(-1)).toBe(0);
    expect(device.reports(1).asked.at(-1)).toBe(1);
  });
  it('of a changed network begins anew', () => {
    const device = settled();
    device.scene.rafts[0]!.joined = 0;
    expect(shares(device, 0.7, 0.7, 0.7)).toBe(0);
    expect(device.run.state.balance).toBeCloseTo(0.7, 12);
  });
});
