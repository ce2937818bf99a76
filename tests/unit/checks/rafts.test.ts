/** Joining rafts lowest first, leaving out, dropping, falling silent. */
import { describe, expect, it } from 'vitest';
import { joiningA, rafts } from '../../../src/checks/rafts.js';
import { Run, Scene } from './build.js';

function joining(...packV: number[]) {
  const scene = new Scene().charging(0, 'joining-train');
  scene.ordered.raftJoined = scene.rafts.map(() => false);
  for (const [i, r] of scene.rafts.entries()) Object.assign(r, { joined: 0, packV: packV[i] ?? 720 });
  scene.train.trainV = 0;
  return new Run(rafts, scene);
}
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
