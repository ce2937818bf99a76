/** One measurement of the live isolation to the report: its figures, what passes, when it is made, its time. */
import { describe, expect, it } from 'vitest';
import { isolationLive, measuredOk } from '../../../src/checks/isolation-live.js';
import { solveUnfavourably } from '../../../src/checks/known-resistor.js';
import { PHASES, type Phase } from '../../../src/rig/roles.js';
import { depot, Scene } from './build.js';
import { atRest, DONE, isolated, measured, Obedient } from './obedient.js';

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
    expect(device.run.finding('isolation-unproven')).toMatchObject({
      reading: expect.closeTo(15, 9),
      limit: 15,
      setting: 'isolation.everyS',
    });
    expect(device.run.proofs).toEqual(['isolation-joined']);
    device.reports(1);
    expect(device.run.failing).toEqual(['isolation-unproven/joined']);
    expect(device.run.proofs).toEqual([]);
  });
});
