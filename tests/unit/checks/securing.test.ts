/** Securing: each condition by name, its proof, and what keeps holding afterwards. */
import { describe, expect, it } from 'vitest';
import { securing } from '../../../src/checks/securing.js';
import { PHASES } from '../../../src/rig/roles.js';
import { depot, Run, Scene, yard } from './build.js';
import { PartialScene } from './partial-scene.js';

/** Reports within which a reading stays fresh. */
const inTime = depot.link.fastReadingMs / depot.link.periodMs;

function secured(scene: Scene = new Scene()) {
  scene.enter('securing').order('latch', { locked: true });
  return new Run(securing, scene).reports(2).reports(3, (s) => {
    s.latch.locked = 1;
  });
}

describe('securing', () => {
  it('proves nothing before the lock is confirmed', () => {
    const scene = new Scene().enter('securing').order('latch', { locked: true });
    const run = new Run(securing, scene).reports(20);
    expect(run.proofs).toEqual([]);
    expect(run.failing).toEqual([]);
    expect(secured().proofs).toEqual(['secured']);
  });
  it('calls a latch that does not lock in time', () => {
    const scene = new Scene().enter('securing').order('latch', { locked: true });
    const run = new Run(securing, scene).reports(59);
    expect(run.failing).toEqual([]);
    expect(run.reports(3).failing).toEqual(['plug-unlocked']);
  });
  it('proves nothing by a sample from before the phase', () => {
    const scene = new Scene().enter('parked');
    scene.latch.locked = 1;
    const run = new Run(securing, scene).reports(3);
    scene.enter('securing').order('latch', { locked: true });
    expect(run.tick(10).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['secured']);
  });
  it.each([
    ['berth-lost', 'berth', 'atStand', 0],
    ['brake-off', 'berth', 'brakeOn', 0],
    ['traction-live', 'berth', 'tractionInhibited', 0],
    ['bond-lost', 'berth', 'bondOhm', 0.101],
    ['plug-unseated', 'latch', 'seated', 0],
    ['plug-unlocked', 'latch', 'locked', 0],
  ] as const)('%s takes the proof away in the second sample, in holding too', (code, role, field, odd) => {
    for (const value of [odd, Number.NaN]) {
      const run = secured();
      run.scene.charging(200);
      expect(run.reports(2).proofs).toEqual(['secured']);
      Object.assign(run.scene[role], { [field]: value });
      expect(run.reports(1).failing).toEqual([]);
      // A single bad sample trips nothing, but nothing is made live on it either.
      expect(run.proofs).toEqual([]);
      expect(run.tick(10).failing).toEqual([]);
      expect(run.reports(1).failing).toEqual([code]);
      expect(run.proofs).toEqual([]);
      const against =
        code === 'bond-lost'
          ? { limit: 0.1, unit: 'ohm', setting: 'berth.maxBondOhm' }
          : { limit: 1, unit: '', setting: `${role}.${field}` };
      expect(run.finding(code)).toMatchObject({ reading: value, ...against, sinceMs: run.scene.nowMs - 60 });
    }
  });
  it('takes a bond of exactly its limit', () => {
    expect(
      secured().reports(3, (s) => {
        s.berth.bondOhm = 0.1;
      }).proofs,
    ).toEqual(['secured']);
  });
  it('forgives a single odd sample', () => {
    const run = secured()
      .reports(1, (s) => {
        s.latch.seated = 0;
      })
      .reports(3, (s) => {
        s.latch.seated = 1;
      });
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual(['secured']);
  });
  it.each([...['outputV', 'plugV', 'outputPositiveV', 'outputNegativeV', 'plugPositiveV', 'plugNegativeV']])(
    'looks at %s at rest, either way, and wants it readable',
    (field) => {
      const reads = (volts: number) =>
        secured().reports(2, (s) => Object.assign(s.meter, { [field]: volts }));
      expect(reads(60).proofs).toEqual(['secured']);
      for (const volts of [60.1, -60.1, Number.NaN]) {
        const run = reads(volts);
        expect(run.failing).toEqual(['live-at-rest']);
        expect(run.proofs).toEqual([]);
        expect(run.finding('live-at-rest')).toMatchObject({
          ...{ reading: Math.abs(volts), limit: 60, unit: 'V', setting: 'bleeder.safeV' },
        });
      }
      // Once something is to become live it is nobody's rest.
      const run = reads(60);
      run.scene.enter('joining-train');
      expect(run.reports(2, (s) => Object.assign(s.meter, { [field]: 720 })).failing).toEqual([]);
    },
  );
  it('tells the greatest of them', () => {
    const run = secured().reports(2, (s) =>
      Object.assign(s.meter, { outputV: 70, plugNegativeV: -90, plugV: 80 }),
    );
    expect(run.finding('live-at-rest').reading).toBe(90);
  });
  it.each([
    ['P', 'contactorP', 'closedP'],
    ['N', 'contactorN', 'closedN'],
    ['pre', 'pre', 'closedPre'],
  ] as const)('names %s when it reads closed though never ordered', (part, group, key) => {
    for (const odd of [1, Number.NaN]) {
      const run = secured(new Scene(yard)).reports(2, (s) => Object.assign(s.contactor, { [key]: odd }));
      expect(run.failing).toEqual([`pole-closed-at-rest/${part}`]);
      expect(run.proofs).toEqual([]);
      expect(run.finding('pole-closed-at-rest', part)).toMatchObject({ reading: odd, limit: 0, unit: '' });
      // Once ordered closed, it is no pole at rest any more.
      run.scene.order(group, { [key]: true });
      expect(run.reports(2).failing).toEqual([]);
    }
  });
  it('asks for no pre-charge contactor where there is none', () => {
    const run = secured().reports(2, (s) => Object.assign(s.contactor, { closedPre: Number.NaN }));
    expect(run.proofs).toEqual(['secured']);
  });
  it('says free only when the latch answered the order', () => {
    const run = secured();
    run.scene.enter('released').order('latch', { locked: false });
    run.scene.latch.locked = 1;
    expect(run.reports(3).proofs).toEqual([]);
    run.scene.latch.locked = 0;
    expect(run.reports(1).proofs).toEqual(['plug-free']);
  });
});

describe('the proof', () => {
  const ROLES = ['berth', 'latch', 'meter', 'contactor'] as const;

  it.each(ROLES)('wants a sample of %s from this phase', (role) => {
    const scene = new Scene().enter('parked');
    scene.latch.locked = 1;
    const run = new Run(securing, scene).reports(3);
    scene.frozen.add(role);
    scene.enter('securing').order('latch', { locked: true });
    expect(run.reports(3).proofs).toEqual([]);
    scene.frozen.clear();
    expect(run.reports(1).proofs).toEqual(['secured']);
  });
  it.each(ROLES)('wants %s fresh in the moment everything holds', (role) => {
    const holdsAfter = (reports: number) => {
      const scene = new Scene().enter('securing').order('latch', { locked: true });
      scene.berth.brakeOn = 0;
      scene.latch.locked = 1;
      const run = new Run(securing, scene).reports(2);
      scene.frozen.add(role);
      run.reports(reports - 1);
      scene.berth.brakeOn = 1;
      return run.reports(1).proofs;
    };
    expect(holdsAfter(inTime)).toEqual(['secured']);
    expect(holdsAfter(inTime + 1)).toEqual([]);
  });
  it.each(ROLES)('is not had without any reading of %s', (role) => {
    const scene = new PartialScene();
    scene.missing.add(role);
    const run = secured(scene);
    expect(run.proofs).toEqual([]);
    // Silence is told by another check, with its own deadline.
    expect(run.reports(20).failing).toEqual([]);
  });
  it('stands on a fresh berth and latch, and needs no other once it was had', () => {
    for (const role of ['berth', 'latch'] as const) {
      const run = secured();
      run.scene.frozen.add(role);
      expect(run.reports(inTime).proofs).toEqual(['secured']);
      expect(run.reports(1).proofs).toEqual([]);
      run.scene.frozen.clear();
      expect(run.reports(1).proofs).toEqual(['secured']);
    }
    const run = secured();
    run.scene.frozen.add('meter').add('contactor');
    expect(run.reports(inTime + 5).proofs).toEqual(['secured']);
  });
  it('is had while securing, or not at all', () => {
    const scene = new Scene().enter('proving-presence').order('latch', { locked: true });
    scene.latch.locked = 1;
    expect(new Run(securing, scene).reports(20).proofs).toEqual([]);
    // Nor with something amiss then that is mended later.
    const late = new Scene().enter('securing').order('latch', { locked: true });
    late.latch.locked = 1;
    late.berth.brakeOn = 0;
    const run = new Run(securing, late).reports(3);
    late.enter('proving-presence').berth.brakeOn = 1;
    expect(run.reports(3).proofs).toEqual([]);
  });
  it('ends when the latch is ordered free, and nobody is accused for that', () => {
    const run = secured();
    run.scene.order('latch', { locked: false });
    expect(run.reports(1).proofs).toEqual([]);
    run.scene.latch.locked = 0;
    expect(run.reports(3).failing).toEqual([]);
    expect(run.proofs).toEqual(['plug-free']);
  });
});

describe('the lock', () => {
  it('is overdue three seconds after its order, in the second sample', () => {
    const scene = new Scene().enter('securing').order('latch', { locked: true });
    const run = new Run(securing, scene).burst(2, 1499).burst(1, 2);
    expect(run.failing).toEqual([]);
    expect(run.burst(1, 1).failing).toEqual(['plug-unlocked']);
  });
  it('was not confirmed by a sample that is not new', () => {
    const scene = new Scene().enter('securing').order('latch', { locked: true });
    const run = new Run(securing, scene).reports(1);
    scene.frozen.add('latch');
    scene.latch.locked = 1;
    run.reports(2);
    scene.frozen.clear();
    scene.latch.locked = 0;
    expect(run.reports(5).failing).toEqual([]);
    // Confirmed once, it is missed at once.
    scene.latch.locked = 1;
    run.reports(1);
    scene.latch.locked = 0;
    expect(run.reports(2).failing).toEqual(['plug-unlocked']);
  });
});

describe('elsewhere', () => {
  it('speaks from securing to the end, after a trip too, and starts anew where no train need be', () => {
    for (const phase of PHASES) {
      const run = secured();
      run.scene.enter(phase);
      run.reports(2, (s) => Object.assign(s.berth, { brakeOn: 0 }));
      const silent = phase === 'parked' || phase === 'released';
      expect(run.failing, phase).toEqual(silent ? [] : ['brake-off']);
      if (silent)
        expect(run.last, phase).toEqual({ state: securing.initial(depot), findings: [], proofs: [] });
    }
  });
  it('calls a plug free by a latch that reads so after the order, fresh and not otherwise', () => {
    const freed = (scene: Scene = new Scene()) => {
      const run = new Run(securing, scene).reports(2);
      scene.order('latch', { locked: false });
      return run;
    };
    // Not by what was read before the order, not by what cannot be read.
    expect(freed().tick(10).proofs).toEqual([]);
    expect(freed().reports(1).proofs).toEqual(['plug-free']);
    for (const locked of [1, Number.NaN])
      expect(freed().reports(3, (s) => Object.assign(s.latch, { locked })).proofs).toEqual([]);
    // Not without an order, nor against one.
    expect(new Run(securing, new Scene()).reports(3).proofs).toEqual([]);
    expect(new Run(securing, new Scene().order('latch', { locked: true })).reports(3).proofs).toEqual([]);
    const run = freed().reports(1);
    run.scene.frozen.add('latch');
    expect(run.reports(inTime).proofs).toEqual(['plug-free']);
    expect(run.reports(1).proofs).toEqual([]);
    const deaf = new PartialScene();
    deaf.missing.add('latch');
    expect(freed(deaf).reports(3).proofs).toEqual([]);
    // A sample of the very moment of the order may be from before it.
    expect(new Run(securing, new Scene().order('latch', { locked: false })).burst(1, 0).proofs).toEqual([]);
  });
});
