/** Pre-charge against W7: 750 V, 5 mF, 100 Ω: τ 0.5 s, 95 % at 1.498 s, within 20 V at 1.812 s. */
import { describe, expect, it } from 'vitest';
import { precharge, timeConstantS } from '../../../src/checks/precharge.js';
import { PHASES } from '../../../src/rig/roles.js';
import type { Rig } from '../../../src/rig/schema.js';
import { Run, Scene, yard } from './build.js';

const rig: Rig = {
  ...yard,
  converter: { ...yard.converter, capacitanceF: 5e-3 },
  contactors: { ...yard.contactors, matchV: 20 },
  precharge: { resistorOhm: 100, maxS: 3, side: 'train' },
};
function charge(tauS: number, reports: number, stopsAtV = 750) {
  const scene = new Scene(rig).enter('pre-charging').volts('plug', 750);
  return new Run(precharge, scene).reports(reports, (s, k) => {
    s.volts('output', Math.min(stopsAtV, 750 * (1 - Math.exp((-k * 0.05) / tauS))));
  });
}

describe('pre-charge, W7', () => {
  it('is within 20 V at 1.812 s: proven three samples later, not before', () => {
    expect(charge(0.5, 37).proofs).toEqual([]);
    expect(charge(0.5, 38 + 3).proofs).toEqual(['pre-charged']);
    expect(charge(0.5, 41).failing).toEqual([]);
  });
  it('reads the time constant off two differences', () => {
    expect(timeConstantS(750, 750 * 0.05, 1.498)).toBeCloseTo(0.5, 3);
    expect(timeConstantS(100, 100, 1)).toBe(Number.POSITIVE_INFINITY);
  });
  it('names a bridged resistor at once, and proves nothing with it', () => {
    const run = charge(0.0025, 2);
    expect(run.failing).toEqual(['precharge-resistor-shorted']);
    expect(run.reports(10, (s) => s.volts('output', 750)).proofs).toEqual([]);
    expect(run.failing).toContain('precharge-resistor-shorted');
  });
  it('takes 30 % of tolerance for tolerance', () => {
    expect(charge(0.35, 60).failing).toEqual([]);
    expect(charge(0.65, 55).failing).toEqual([]);
  });
  it('fails in time when the bus does not get there', () => {
    expect(charge(0.5, 60, 600).failing).toEqual([]);
    expect(charge(0.5, 62, 600).failing).toEqual(['precharge-failed']);
  });
  it('has nothing to say on a rig whose converter matches', () => {
    expect(new Run(precharge, new Scene().enter('pre-charging')).reports(3).last.findings).toEqual([]);
  });
});

/** Plug side at 750 V unless said otherwise, the output at the volts given one after the other. */
function outputs(volts: readonly number[], plugV = 750, phase: 'pre-charging' | 'closing' = 'pre-charging') {
  const scene = new Scene(rig).enter(phase).volts('plug', plugV);
  return new Run(precharge, scene).reports(volts.length, (s, k) => s.volts('output', volts[k]!));
}

describe('the time constant', () => {
  it.each([
    { is: 'nothing left counts as one volt', fromV: 750, toV: 0, expectedS: 0.05 / Math.log(750) },
    { is: 'an overshoot counts by its size', fromV: 750, toV: -75, expectedS: 0.05 / Math.log(10) },
    { is: 'a difference that does not shrink', fromV: 100, toV: 100, expectedS: Number.POSITIVE_INFINITY },
    { is: 'one that grows', fromV: 100, toV: 110, expectedS: Number.POSITIVE_INFINITY },
    { is: 'an unreadable one', fromV: 100, toV: Number.NaN, expectedS: Number.POSITIVE_INFINITY },
  ])('$is', ({ fromV, toV, expectedS }) => {
    expect(timeConstantS(fromV, toV, 0.05)).toBeCloseTo(expectedS, 12);
  });
  it.each([
    // 100 Ω and 5 mF make 0.5 s; a fifth of a second is the least that tolerances explain.
    [0.19, ['precharge-resistor-shorted']],
    [0.21, []],
  ])('of %d s', (tauS, failing) => {
    const run = charge(tauS, 3);
    expect(run.failing).toEqual(failing);
    const found = run.finding('precharge-resistor-shorted');
    expect(found.reading).toBeCloseTo(tauS, 9);
    expect(found.limit).toBeCloseTo(0.2, 12);
    expect(found).toMatchObject({ unit: 's', setting: 'precharge.resistorOhm' });
  });
  it('is read while 15 % of the voltage are left (112.5 V), from one step alone', () => {
    expect(outputs([750 - 112, 745]).failing).toEqual([]);
    expect(outputs([750 - 112.5, 745]).failing).toEqual(['precharge-resistor-shorted']);
    expect(outputs([750 - 112, 745]).finding('precharge-resistor-shorted').reading).toBe(
      Number.POSITIVE_INFINITY,
    );
  });
  it('is remembered with its time, into closing too', () => {
    const run = outputs([0, 740]);
    const { sinceMs } = run.finding('precharge-resistor-shorted');
    expect(sinceMs).toBe(run.scene.nowMs);
    run.scene.enter('closing');
    run.reports(5);
    expect(run.failing).toEqual(['precharge-resistor-shorted']);
    expect(run.finding('precharge-resistor-shorted').sinceMs).toBe(sinceMs);
    expect(run.proofs).toEqual([]);
  });
  it('is not read while closing: a contactor may well join two sides at once', () => {
    expect(outputs([0, 750, 750], 750, 'closing').failing).toEqual([]);
  });
});

describe('the proof', () => {
  it.each([
    { is: '20 V apart', outputV: 730, plugV: 750, ok: true },
    { is: 'more than 20 V apart', outputV: 729.9, plugV: 750, ok: false },
    { is: '20 V apart the other way', outputV: 770, plugV: 750, ok: true },
    { is: 'a plug at 60 V', outputV: 60, plugV: 60, ok: false },
    { is: 'a plug just above 60 V', outputV: 61, plugV: 61, ok: true },
    { is: 'an unreadable plug', outputV: 750, plugV: Number.NaN, ok: false },
    { is: 'an unreadable output', outputV: Number.NaN, plugV: 750, ok: false },
  ])('$is: $ok', ({ outputV, plugV, ok }) => {
    const three = [outputV, outputV, outputV];
    expect(outputs(three.slice(1), plugV).proofs).toEqual([]);
    expect(outputs(three, plugV).proofs).toEqual(ok ? ['pre-charged'] : []);
  });
  it('wants three in a row, each counted once, and none too old', () => {
    expect(outputs([750, 750, 700, 750, 750]).proofs).toEqual([]);
    const frozen = outputs([750, 750]);
    frozen.scene.frozen.add('meter');
    expect(frozen.reports(5).proofs).toEqual([]);
    const run = outputs([750, 750, 750]);
    expect(run.tick(rig.link.fastReadingMs).proofs).toEqual(['pre-charged']);
    expect(run.tick(1).proofs).toEqual([]);
  });
});

describe('the time limit', () => {
  const untilReports = 3000 / rig.link.periodMs;
  it('is 3 s, told with the volts that are left', () => {
    const run = charge(0.5, untilReports, 600);
    expect(run.failing).toEqual([]);
    expect(run.finding('precharge-failed')).toMatchObject({
      reading: 150,
      limit: 20,
      setting: 'precharge.maxS',
    });
    expect(run.reports(1).failing).toEqual(['precharge-failed']);
  });
  it('fails with two good samples by then, not with three', () => {
    for (const [samples, failing] of [
      [2, ['precharge-failed']],
      [3, []],
    ] as const) {
      const run = charge(0.5, untilReports + 1 - samples, 700);
      expect(run.reports(samples, (s) => s.volts('output', 740)).failing).toEqual(failing);
    }
  });
});

describe('when it speaks', () => {
  it('is in pre-charging, and in closing of the resistor alone', () => {
    const codesIn = (phase: (typeof PHASES)[number]) => {
      const scene = new Scene(rig).enter(phase).volts('plug', 750);
      return new Run(precharge, scene).reports(1).last.findings.map((f) => f.code);
    };
    expect(codesIn('pre-charging')).toEqual(['precharge-resistor-shorted', 'precharge-failed']);
    expect(codesIn('closing')).toEqual(['precharge-resistor-shorted']);
    expect(PHASES.filter((phase) => codesIn(phase).length > 0)).toEqual(['pre-charging', 'closing']);
  });
  it('forgets in any other phase, and without a meter', () => {
    const run = outputs([750, 750, 750]);
    const blind = precharge.run(run.state, { ...run.scene.report(), meter: null }, rig);
    expect([blind.findings, blind.proofs ?? [], blind.state]).toEqual([[], [], precharge.initial(rig)]);
    run.scene.enter('ramping');
    run.reports(1);
    run.scene.enter('pre-charging');
    expect(run.reports(2).proofs).toEqual([]);
  });
});
