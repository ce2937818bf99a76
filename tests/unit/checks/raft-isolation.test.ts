/** Each joined raft's own isolation, 500 Ω/V (ISO 6469-4, published). */
import { expect, it } from 'vitest';
import { raftIsolation } from '../../../src/checks/raft-isolation.js';
import { Run, Scene } from './build.js';

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
