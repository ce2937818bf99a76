/** Rafts on the bus: when joining has settled, who is left out, who parts, falls silent, and when nobody is left. */
import { describe, expect, it } from 'vitest';
import { rafts } from '../../../src/checks/rafts.js';
import type { Phase } from '../../../src/rig/roles.js';
import { Run, Scene } from './build.js';
import { joining } from './joining.js';
import { feed, feedMany } from './spoil.js';

describe('settling', () => {
  /** Three on the bus, the second too far away. */
  const three = () => {
    const run = joining(720, 735, 720, 720);
    for (const i of [0, 2, 3]) run.scene.rafts[i]!.joined = 1;
    run.scene.ordered.raftJoined = [true, false, true, true];
    run.scene.train.trainV = 720;
    return run;
  };
  const SOME = ['rafts-joined-some'];
  it('takes a second in which nobody may join', () => {
    const run = three().reports(20);
    expect(run.proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(SOME);
    expect(run.failing).toEqual(['raft-left-out/raft-2']);
  });
  it.each([
    ['somebody could', (s: Scene) => Object.assign(s.train, { trainV: 734 })],
    ['the train was open at P', (s: Scene) => Object.assign(s.train, { closedP: 0 })],
    ['the train was open at N', (s: Scene) => Object.assign(s.train, { closedN: 0 })],
  ])('begins anew when %s', (_, spoil) => {
    const run = three().reports(21);
    const train = { ...run.scene.train };
    expect(run.reports(1, spoil).proofs).toEqual([]);
    Object.assign(run.scene.train, train);
    expect(run.reports(20).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(SOME);
  });
  it('waits for one that was ordered', () => {
    const run = three();
    run.scene.order('rafts', { raftJoined: [true, true, true, true] });
    // 2 s for it to come, and a second of its own.
    expect(run.reports(59).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(SOME);
    const blind = three().reports(21);
    expect(feed(blind, { train: null }).proofs).toEqual([]);
  });
  it('does not call left out what was there before', () => {
    const run = new Run(rafts, new Scene().charging(200)).reports(3);
    run.scene.rafts[1]!.joined = 0;
    expect(run.reports(70).failing).toEqual(['raft-dropped/raft-2']);
    expect(run.proofs).toEqual(SOME);
  });
  const unfit = () => {
    const run = joining(720, 720, 720, 720);
    for (const r of run.scene.rafts) r.alarm = 2;
    return run;
  };
  it('gives up after 5 s with nobody', () => {
    const run = unfit().reports(100);
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['no-raft-joined']);
    expect(run.finding('no-raft-joined')).toMatchObject({
      reading: 0,
      limit: 1,
      sinceMs: run.scene.nowMs - 5000,
    });
  });
  it.each([
    ['one is on the bus', (s: Scene) => Object.assign(s.rafts[0]!, { joined: 1 })],
    ['the train is open', (s: Scene) => Object.assign(s.train, { closedN: 0 })],
    ['one may join', (s: Scene) => Object.assign(s.rafts[0]!, { alarm: 0 })],
  ])('never while %s', (_, spoil) => {
    const run = unfit();
    spoil(run.scene);
    expect(run.reports(200).failing.filter((f) => f === 'no-raft-joined')).toEqual([]);
  });
});

describe('rafts under way', () => {
  const holding = () => new Run(rafts, new Scene().charging(200)).reports(3);
  it('states each raft of the rig once', () => {
    const run = holding();
    const parts = (code: string) => run.last.findings.filter((f) => f.code === code).map((f) => f.part);
    const all = ['raft-1', 'raft-2', 'raft-3', 'raft-4'];
    for (const code of ['raft-silent', 'raft-dropped', 'raft-left-out']) expect(parts(code)).toEqual(all);
    expect(run.finding('raft-dropped', 'raft-1')).toMatchObject({ reading: 1, limit: 1 });
    expect(run.finding('raft-silent', 'raft-1')).toMatchObject({ reading: 0, limit: 2000 });
    expect(run.finding('no-raft-joined').reading).toBe(4);
  });
  it('a raft has parted in the second report, and no tick is one', () => {
    const run = holding();
    run.scene.rafts[2]!.joined = 0;
    expect(run.reports(1).failing).toEqual([]);
    expect(run.tick(25).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['raft-dropped/raft-3']);
    expect(run.finding('raft-dropped', 'raft-3')).toMatchObject({
      reading: 0,
      sinceMs: run.scene.nowMs - 75,
    });
  });
  it('the last two of a train that had two are all', () => {
    const scene = new Scene().charging(200);
    for (const i of [0, 1]) Object.assign(scene.rafts[i]!, { joined: 0, alarm: 2 });
    const run = new Run(rafts, scene).reports(3);
    for (const i of [2, 3]) run.scene.rafts[i]!.joined = 0;
    expect(run.reports(1).failing).toEqual([]);
    expect(run.reports(1).failing).toContain('no-raft-joined');
  });
  it('one of two is not all', () => {
    const run = holding().reports(3, (s) => Object.assign(s.rafts[0]!, { joined: 0 }));
    expect(run.failing).toEqual(['raft-dropped/raft-1']);
  });
  it('a raft is silent after 2 s while its port was heard within a report and a half', () => {
    const silent = (portSilentMs: number) => {
      const run = holding();
      run.scene.portSilentMs.fill(portSilentMs);
      run.scene.frozen.add('raft2');
      expect(run.reports(40).failing).toEqual([]);
      return run.reports(1);
    };
    expect(silent(75).failing).toEqual(['raft-silent/raft-2']);
    expect(silent(75.1).failing).toEqual([]);
    const run = silent(50);
    expect(run.finding('raft-silent', 'raft-2')).toMatchObject({ reading: 2050, limit: 2000, unit: 'ms' });
    const { nowMs } = run.scene;
    expect(run.reports(3).finding('raft-silent', 'raft-2').sinceMs).toBe(nowMs);
  });
  it('one that was never on the bus may be silent', () => {
    const run = joining(720, 720, 720, 720);
    run.scene.rafts[1]!.alarm = 2;
    run.reports(1).scene.frozen.add('raft2');
    expect(run.reports(50).failing).toEqual([]);
  });
  it('one that is seen no more is silent, not parted, and proves nothing', () => {
    const run = holding();
    const rafts = run.scene.report().rafts.map((r, i) => (i === 1 ? null : r));
    const { findings, proofs } = feedMany(run, 3, { rafts });
    expect(findings.filter((f) => f.failing).map((f) => `${f.code}/${f.part}`)).toEqual([
      'raft-silent/raft-2',
    ]);
    expect(run.finding('raft-dropped', 'raft-2').reading).toBeNaN();
    expect(run.finding('raft-silent', 'raft-2').reading).toBe(Number.POSITIVE_INFINITY);
    expect(proofs).toEqual([]);
  });
  it.each(['parked', 'checking-isolation', 'opening', 'making-safe'] as Phase[])(
    'nothing is said while %s, and nobody was there before',
    (phase) => {
      const run = holding();
      run.scene.enter(phase);
      expect(run.reports(1).last.findings).toEqual([]);
      run.scene.enter('joining-train');
      run.scene.rafts[2]!.joined = 0;
      expect(run.reports(3).failing).toEqual([]);
    },
  );
  it.each(['joining-train', 'closing', 'ramping', 'ramping-down', 'tripped-ramping-down'] as Phase[])(
    'a raft that parts is named while %s',
    (phase) => {
      const run = holding();
      run.scene.enter(phase);
      run.scene.rafts[2]!.joined = 0;
      expect(run.reports(2).failing).toEqual(['raft-dropped/raft-3']);
    },
  );
});
