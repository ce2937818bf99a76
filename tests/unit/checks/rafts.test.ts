/** Joining rafts lowest first, leaving out, dropping, falling silent. */
import { describe, expect, it } from 'vitest';
import { joiningA, rafts } from '../../../src/checks/rafts.js';
import type { Phase } from '../../../src/rig/roles.js';
import { depot, generatorYard, Run, Scene } from './build.js';
import { joining } from './joining.js';
import { feed } from './spoil.js';

/** Carries out what the check offers, as a train would. */
function joinAll(run: Run<unknown>, reports: number): number[] {
  const order: number[] = [];
  run.reports(reports, (s) => {
    const next = run.last.mayJoinRaft;
    if (next === undefined || s.ordered.raftJoined[next]) return;
    order.push(next);
    s.order('rafts', { raftJoined: s.ordered.raftJoined.map((was, i) => was || i === next) });
    s.rafts[next]!.joined = 1;
    const on = s.rafts.filter((r) => r.joined === 1);
    s.train.trainV = on.reduce((sum, r) => sum + r.packV, 0) / on.length;
  });
  return order;
}

describe('joining', () => {
  it('goes lowest voltage first and proves all', () => {
    const run = joining(722, 720, 723, 721);
    expect(joinAll(run as Run<unknown>, 20)).toEqual([1, 3, 0, 2]);
    expect(run.proofs).toEqual(['rafts-joined-all']);
    expect(run.failing).toEqual([]);
  });
  it('holds the difference over the loop against the join current', () => {
    const run = joining(720, 730, 720, 720);
    joinAll(run as Run<unknown>, 12);
    // Two packs of 192 × 24 mΩ ÷ 28 + 10 mΩ at 20 °C; three of them on the bus.
    const one = (0.024 * 2 ** (5 / 45) * 192) / 28 + 0.01;
    expect(joiningA(run.scene.report(), 1, run.scene.rig)).toBeCloseTo(10 / (one + one / 3), 1);
  });
  it('leaves out the one too far away, names it, and goes on with the rest', () => {
    const run = joining(720, 735, 720, 721);
    expect(joinAll(run as Run<unknown>, 15)).toEqual([0, 2, 3]);
    expect(run.proofs).toEqual([]);
    run.reports(20);
    expect(run.proofs).toEqual(['rafts-joined-some']);
    expect(run.failing).toEqual(['raft-left-out/raft-2']);
    expect(run.finding('raft-left-out', 'raft-2').reading).toBeGreaterThan(30);
  });
  it('takes it in later when the volts have come together, only while the current is steady', () => {
    const run = joining(720, 735, 720, 721);
    joinAll(run as Run<unknown>, 40);
    run.scene.enter('ramping').train.trainV = 734;
    expect(run.reports(2).last.mayJoinRaft).toBeUndefined();
    run.scene.enter('holding');
    expect(run.reports(2).last.mayJoinRaft).toBe(1);
  });
  it.each([
    ['an alarm', { alarm: 2 }],
    ['low isolation', { isolationOhm: 100_000 }],
    ['a cell too high', { cellMaxV: 4.3 }],
    ['an unreadable cell', { cellMinV: Number.NaN }],
  ])('does not offer a raft with %s', (_, spoil) => {
    const run = joining(720, 720, 720, 720);
    Object.assign(run.scene.rafts[0]!, spoil);
    expect(joinAll(run as Run<unknown>, 20)).toEqual([1, 2, 3]);
  });
  it('offers nobody while one is on the way, nor with the train open', () => {
    const run = joining(720, 721, 722, 723).reports(1);
    expect(run.last.mayJoinRaft).toBe(0);
    run.scene.order('rafts', { raftJoined: [true, false, false, false] });
    expect(run.reports(3).last.mayJoinRaft).toBeUndefined();
    const open = joining(720, 720, 720, 720);
    open.scene.train.closedP = 0;
    expect(open.reports(3).last.mayJoinRaft).toBeUndefined();
  });
  it('gives up when nobody can be joined', () => {
    const run = joining(720, 720, 720, 720);
    for (const r of run.scene.rafts) r.alarm = 2;
    expect(run.reports(90).failing).toEqual([]);
    expect(run.reports(20).failing).toEqual(['no-raft-joined']);
  });
});

describe('on the bus', () => {
  it('names a raft that parts, and does not take it back', () => {
    const run = new Run(rafts, new Scene().charging(200)).reports(3);
    run.reports(2, (s) => {
      s.rafts[2]!.joined = 0;
    });
    expect(run.failing).toEqual(['raft-dropped/raft-3']);
    expect(run.reports(40).last.mayJoinRaft).toBeUndefined();
  });
  it('is no session any more when the last has parted', () => {
    const run = new Run(rafts, new Scene().charging(200)).reports(3);
    run.reports(2, (s) =>
      s.rafts.forEach((r) => {
        r.joined = 0;
      }),
    );
    expect(run.failing).toContain('no-raft-joined');
  });
  it('names a raft whose counter stands, but not when the whole port is quiet', () => {
    const run = new Run(rafts, new Scene().charging(200)).reports(3);
    run.scene.frozen.add('raft2');
    expect(run.reports(40).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['raft-silent/raft-2']);
    expect(run.proofs).toEqual([]);
    run.scene.portSilentMs[0] = 300;
    expect(run.tick(25).failing).toEqual([]);
  });
});

/** One raft by the rig: 192 × 24 mΩ ÷ 28 and 10 mΩ of bars, at 25 °C. */
const ONE_OHM = (0.024 * 192) / 28 + 0.01;

describe('the current of joining', () => {
  const bus = (trainV: number, ...joined: number[]) => {
    const scene = new Scene().charging(0, 'joining-train');
    scene.rafts.forEach((r, i) => {
      Object.assign(r, { joined: joined.includes(i) ? 1 : 0, cellMinC: 25 });
    });
    scene.train.trainV = trainV;
    return scene.report();
  };
  it.each([
    [0, 0],
    [60, 0],
    [-60, 0],
    [60.1, Number.NaN],
    [Number.NaN, Number.NaN],
  ])('onto a bus with nobody, at %d V: %d A', (trainV, currentA) => {
    expect(joiningA(bus(trainV), 0, depot)).toBe(currentA);
  });
  it.each([
    [[1], 715, 5 / (2 * ONE_OHM)],
    [[1], 725, 5 / (2 * ONE_OHM)],
    [[1, 2, 3], 715, 5 / (ONE_OHM + ONE_OHM / 3)],
  ])('onto %j at %d V: the difference over the loop, %d A', (joined, trainV, currentA) => {
    expect(joiningA(bus(trainV, ...joined), 0, depot)).toBeCloseTo(currentA, 9);
  });
  it('cannot be told of a raft or a train that was never seen', () => {
    const seen = bus(715, 1);
    expect(joiningA({ ...seen, rafts: [null, ...seen.rafts.slice(1)] }, 0, depot)).toBeNaN();
    expect(joiningA({ ...seen, train: null }, 0, depot)).toBeNaN();
    // One on the bus that cannot be seen is taken for warm: the least resistance, the most current.
    const blind = seen.rafts.map((r, i) => (i === 1 ? null : r));
    expect(joiningA({ ...seen, rafts: blind }, 0, depot)).toBeCloseTo(5 / (2 * ONE_OHM), 9);
  });
  it('may be the join current itself', () => {
    const scene = new Scene().charging(0, 'joining-train');
    const own = (joinCurrentA: number) => ({
      ...depot,
      battery: { ...depot.battery, raft: { ...depot.battery.raft, joinCurrentA } },
    });
    Object.assign(scene.rafts[0]!, { joined: 0, packV: 725 });
    scene.ordered.raftJoined = [false, true, true, true];
    const currentA = joiningA(scene.report(), 0, depot);
    const may = (limitA: number) => {
      const rig = own(limitA);
      return rafts.run(rafts.initial(rig), scene.report(), rig).mayJoinRaft;
    };
    expect(may(currentA)).toBe(0);
    expect(may(currentA - 0.01)).toBeUndefined();
  });
});

describe('who may join', () => {
  const first = (spoil: (s: Scene) => void = () => {}) => {
    const run = joining(720, 721, 722, 723);
    spoil(run.scene);
    return run.reports(1).last.mayJoinRaft;
  };
  // 500 Ω/V of 720 V; cells from 3.0 to 4.2 V; a warning is no reason to stay away.
  it.each([
    ['with a warning', { alarm: 1 }, { alarm: 1.5 }],
    ['at 500 Ω/V', { isolationOhm: 360_000 }, { isolationOhm: 359_999 }],
    ['at the least cell', { cellMinV: 3 }, { cellMinV: 2.999 }],
    ['at the highest cell', { cellMaxV: 4.2 }, { cellMaxV: 4.201 }],
    // Found by a storm: a full raft was charged beyond its window because the others were not full.
    ['below the ceiling of 90 %', { soc: 0.899 }, { soc: 0.9 }],
    ['not yet joined', { joined: 0 }, { joined: Number.NaN }],
    ['readable', {}, { alarm: Number.NaN }],
    ['isolated', {}, { isolationOhm: Number.NaN }],
    ['whole', {}, { cellMaxV: Number.NaN }],
    ['that tells no state of charge', { soc: Number.NaN }, { soc: 0.95 }],
  ])('a raft %s, not beyond', (_, inside, beyond) => {
    expect(first((s) => Object.assign(s.rafts[0]!, inside))).toBe(0);
    expect(first((s) => Object.assign(s.rafts[0]!, beyond))).toBe(1);
  });
  it.each([
    ['P open', (s: Scene) => Object.assign(s.train, { closedP: 0 })],
    ['N open', (s: Scene) => Object.assign(s.train, { closedN: 0 })],
    ['P unreadable', (s: Scene) => Object.assign(s.train, { closedP: Number.NaN })],
  ])('nobody with the train’s %s', (_, spoil) => {
    expect(first(spoil)).toBeUndefined();
  });
  it('nobody without a train, or on one older than 2 s', () => {
    const run = joining(720, 721, 722, 723);
    expect(feed(run, { train: null }).mayJoinRaft).toBeUndefined();
    run.reports(1).scene.frozen.add('train');
    expect(run.reports(40).last.mayJoinRaft).toBe(0);
    expect(run.reports(1).last.mayJoinRaft).toBeUndefined();
  });
  it('no raft older than 2 s, none never seen', () => {
    const run = joining(720, 721, 722, 723).reports(1);
    run.scene.frozen.add('raft1');
    expect(run.reports(40).last.mayJoinRaft).toBe(0);
    expect(run.reports(1).last.mayJoinRaft).toBe(1);
    const seen = run.scene.report().rafts;
    for (let i = 0; i < 4; i++) {
      const result = feed(run, { rafts: seen.map((r, k) => (k === i ? null : r)) });
      expect(result.mayJoinRaft).not.toBe(i);
    }
  });
  it('the next, 2 s after one was ordered that does not come', () => {
    const run = joining(720, 721, 722, 723).reports(1);
    run.scene.order('rafts', { raftJoined: [true, false, false, false] });
    expect(run.reports(39).last.mayJoinRaft).toBeUndefined();
    expect(run.reports(1).last.mayJoinRaft).toBe(1);
  });
  it('none that was there before, ordered away or not', () => {
    const run = new Run(rafts, new Scene().charging(200)).reports(3);
    run.scene.ordered.raftJoined = [true, true, false, true];
    run.scene.rafts[2]!.joined = 0;
    expect(run.reports(60).last.mayJoinRaft).toBeUndefined();
  });
  it('no generator, and nothing is said of it that is left out', () => {
    const scene = new Scene(generatorYard).charging(0, 'joining-train');
    scene.ordered.raftJoined = [true, true, true, false];
    scene.rafts[3]!.joined = 0;
    const run = new Run(rafts, scene);
    expect(run.reports(30).last.mayJoinRaft).toBeUndefined();
    expect(run.proofs).toEqual(['rafts-joined-all']);
    expect(run.last.findings.filter((f) => f.part === 'generator').map((f) => f.code)).toEqual([
      'raft-silent',
      'raft-dropped',
    ]);
  });
  it('a generator on the bus makes no battery complete', () => {
    const scene = new Scene(generatorYard).charging(0, 'joining-train');
    Object.assign(scene.rafts[0]!, { joined: 0, alarm: 2 });
    const run = new Run(rafts, scene).reports(2);
    expect(run.proofs).toEqual([]);
  });
  it.each([
    ['joining-train', 0],
    ['matching-voltage', undefined],
    ['closing', undefined],
    ['ramping', undefined],
    ['holding', 0],
    ['tapering', 0],
    ['ramping-down', undefined],
    ['tripped-ramping-down', undefined],
  ] as [Phase, number | undefined][])('while %s: %s', (phase, raft) => {
    const run = joining(720, 721, 722, 723);
    run.scene.enter(phase);
    expect(run.reports(1).last.mayJoinRaft).toBe(raft);
    expect('mayJoinRaft' in run.last).toBe(raft !== undefined);
  });
});
