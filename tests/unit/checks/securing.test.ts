/** Securing: each condition by name, its proof, and what keeps holding afterwards. */
import { describe, expect, it } from 'vitest';
import { securing } from '../../../src/checks/securing.js';
import { Run, Scene } from './build.js';

function secured() {
  const scene = new Scene().enter('securing').order('latch', { locked: true });
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
    [
      'berth-lost',
      (s: Scene) => {
        s.berth.atStand = 0;
      },
    ],
    [
      'brake-off',
      (s: Scene) => {
        s.berth.brakeOn = 0;
      },
    ],
    [
      'traction-live',
      (s: Scene) => {
        s.berth.tractionInhibited = 0;
      },
    ],
    [
      'bond-lost',
      (s: Scene) => {
        s.berth.bondOhm = 50;
      },
    ],
    [
      'bond-lost',
      (s: Scene) => {
        s.berth.bondOhm = Number.NaN;
      },
    ],
    [
      'plug-unseated',
      (s: Scene) => {
        s.latch.seated = 0;
      },
    ],
    [
      'plug-unlocked',
      (s: Scene) => {
        s.latch.locked = 0;
      },
    ],
  ])('%s takes the proof away in the second sample, in holding too', (code, spoil) => {
    const run = secured();
    run.scene.charging(200);
    expect(run.reports(2).proofs).toEqual(['secured']);
    spoil(run.scene);
    expect(run.reports(1).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual([code]);
    expect(run.proofs).toEqual([]);
    expect(run.finding(code as 'bond-lost').sinceMs).toBe(run.scene.nowMs - 50);
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
  it('looks at every voltmeter at rest', () => {
    const run = secured().reports(2, (s) => {
      s.meter.plugNegativeV = -75;
    });
    expect(run.failing).toEqual(['live-at-rest']);
    expect(run.finding('live-at-rest').reading).toBe(75);
  });
  it('names a pole that reads closed though never ordered', () => {
    const run = secured().reports(2, (s) => {
      s.contactor.closedN = 1;
    });
    expect(run.failing).toEqual(['pole-closed-at-rest/N']);
    // Once ordered closed, it is no pole at rest any more.
    run.scene.order('contactorN', { closedN: true });
    expect(run.reports(2).failing).toEqual([]);
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
