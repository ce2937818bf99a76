/** What the live isolation takes for one network, and the balance of its poles that it watches. */
import { describe, expect, it } from 'vitest';
import { isolationLive } from '../../../src/checks/isolation-live.js';
import { depot, Scene } from './build.js';
import { DONE, measured, Obedient } from './obedient.js';

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
