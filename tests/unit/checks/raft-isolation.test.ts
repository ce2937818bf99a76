/** Each joined raft's own isolation, 500 Ω/V (ISO 6469-4, published). */
import { expect, it } from 'vitest';
import { raftIsolation } from '../../../src/checks/raft-isolation.js';
import type { Phase } from '../../../src/rig/roles.js';
import { Run, Scene } from './build.js';
import { feed } from './spoil.js';

const holding = () => new Run(raftIsolation, new Scene().charging(100)).reports(2);

it('holds ohms against the pack’s own volts', () => {
  expect(
    holding().reports(3, (s) => {
      s.rafts[1]!.isolationOhm = 361_000;
    }).failing,
  ).toEqual([]);
  const run = holding().reports(2, (s) => {
    s.rafts[1]!.isolationOhm = 359_000;
  });
  expect(run.failing).toEqual(['raft-isolation-low/raft-2']);
  expect(run.finding('raft-isolation-low', 'raft-2').limit).toBe(500 * 720);
});
it('fails unreadable, and does not speak of a raft off the bus', () => {
  expect(
    holding().reports(2, (s) => {
      s.rafts[1]!.isolationOhm = Number.NaN;
    }).failing,
  ).toEqual(['raft-isolation-low/raft-2']);
  const off = holding().reports(3, (s) => Object.assign(s.rafts[1]!, { isolationOhm: 1000, joined: 0 }));
  expect(off.failing).toEqual([]);
});

const low = () =>
  holding().reports(1, (s) => {
    s.rafts[1]!.isolationOhm = 1000;
  });
it('is enough at 500 Ω/V exactly, and fails in the second report', () => {
  const run = holding().reports(3, (s) => {
    s.rafts[1]!.isolationOhm = 360_000;
  });
  expect(run.failing).toEqual([]);
  run.scene.rafts[1]!.isolationOhm = 359_999;
  expect(run.reports(1).failing).toEqual([]);
  expect(run.tick(25).failing).toEqual([]);
  expect(run.reports(1).failing).toEqual(['raft-isolation-low/raft-2']);
  expect(run.finding('raft-isolation-low', 'raft-2')).toMatchObject({ reading: 359_999, unit: 'ohm' });
  expect(run.last.findings.map((f) => f.part)).toEqual(['raft-1', 'raft-2', 'raft-3', 'raft-4']);
});
it('counts from the first report, even when a tick came before it', () => {
  const run = new Run(raftIsolation, new Scene().charging(100));
  run.scene.report();
  expect(run.tick(25).failing).toEqual([]);
  expect(run.reports(2, (s) => Object.assign(s.rafts[1]!, { isolationOhm: 1000 })).failing).toHaveLength(1);
});
it.each(['joining-train', 'closing', 'ramping', 'ramping-down', 'tripped-ramping-down'] as Phase[])(
  'asks while %s',
  (phase) => {
    const run = low();
    run.scene.enter(phase);
    expect(run.reports(1).failing).toEqual(['raft-isolation-low/raft-2']);
  },
);
it.each(['parked', 'checking-isolation', 'opening', 'making-safe'] as Phase[])(
  'does not while %s, and begins anew after it',
  (phase) => {
    const run = low();
    run.scene.enter(phase);
    expect(run.reports(1).last.findings).toEqual([]);
    run.scene.enter('holding');
    expect(run.tick(25).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual([]);
  },
);
it('begins anew after a raft was off the bus, or older than 2 s', () => {
  const off = low();
  off.scene.rafts[1]!.joined = 0;
  off.reports(1).scene.rafts[1]!.joined = 1;
  expect(off.reports(1).failing).toEqual([]);
  const old = low();
  old.scene.frozen.add('raft2');
  old.reports(41).scene.frozen.clear();
  expect(old.reports(1).failing).toEqual([]);
  const young = low();
  young.scene.frozen.add('raft2');
  young.reports(39).scene.frozen.clear();
  expect(young.reports(1).failing).toEqual(['raft-isolation-low/raft-2']);
});
it('says nothing of a raft that was never seen', () => {
  const run = holding();
  const [, ...rest] = run.scene.report().rafts;
  expect(feed(run, { rafts: [null, ...rest] }).findings.map((f) => f.part)).toEqual([
    'raft-2',
    'raft-3',
    'raft-4',
  ]);
});
