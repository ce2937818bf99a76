/** Readings and their age: a standing sample counter does not make a reading new (I7). */
import { describe, expect, it } from 'vitest';
import type { ReportedRoles } from '../../src/link/frames.js';
import { ROLES } from '../../src/rig/roles.js';
import { type Circumstances, Readings } from '../../src/supervisor/observe.js';

const values = (role: keyof typeof ROLES, sample: number) =>
  Object.fromEntries(ROLES[role].fields.map((f) => [f.name, f.name === 'sample' ? sample : 0]));
const report = (sample: number, roles: (keyof typeof ROLES)[], rafts = 0): ReportedRoles =>
  ({
    device: values('device', sample),
    ...Object.fromEntries(roles.map((role) => [role, values(role, sample)])),
    rafts: Array.from({ length: rafts }, () => values('raft', sample)),
  }) as unknown as ReportedRoles;
const at = (nowMs: number) => ({ nowMs }) as Circumstances;
const ALL = (Object.keys(ROLES) as (keyof typeof ROLES)[]).filter((r) => r !== 'device' && r !== 'raft');

describe('readings', () => {
  it('ages from the last advance of the sample counter, not from the last frame', () => {
    const readings = new Readings(1, 0);
    readings.take(0, report(1, ['meter']), 100);
    expect(readings.observe(at(100)).meter).toMatchObject({ ageMs: 0, isNew: true });
    readings.settle();
    readings.take(0, report(1, ['meter']), 150);
    expect(readings.observe(at(150)).meter).toMatchObject({ ageMs: 50, isNew: false });
    readings.take(0, report(2, ['meter']), 200);
    expect(readings.observe(at(230)).meter).toMatchObject({ ageMs: 30, isNew: true });
  });

  it('calls a sample new in one step only', () => {
    const readings = new Readings(1, 1);
    readings.take(0, report(1, ['meter'], 1), 0);
    readings.settle();
    const { meter, rafts, device } = readings.observe(at(10));
    expect([meter?.isNew, rafts[0]?.isNew, device[0]?.isNew]).toEqual([false, false, false]);
  });

  it('takes a counter that wraps for an advance', () => {
    const readings = new Readings(1, 0);
    readings.take(0, report(65535, ['meter']), 0);
    readings.take(0, report(0, ['meter']), 50);
    expect(readings.observe(at(50)).meter?.ageMs).toBe(0);
  });

  it('knows nothing of what was never heard', () => {
    const { meter, rafts, device, portSilentMs } = new Readings(2, 1).observe(at(10));
    expect([meter, rafts, device]).toEqual([null, [null], [null, null]]);
    expect(portSilentMs).toEqual([Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY]);
  });

  it('counts the silence of each port by itself', () => {
    const readings = new Readings(2, 0);
    readings.heard(0, 100);
    readings.heard(1, 400);
    expect(readings.observe(at(500)).portSilentMs).toEqual([400, 100]);
  });

  it('is complete when every role and raft was heard, of whichever port; a shoes rig has no loop', () => {
    const readings = new Readings(2, 2);
    readings.take(0, report(1, ['converter', 'meter']), 0);
    expect(readings.complete()).toBe(false);
    readings.take(
      1,
      report(
        1,
        ALL.filter((r) => !['converter', 'meter', 'loop'].includes(r)),
        1,
      ),
      0,
    );
    expect(readings.complete()).toBe(false);
    readings.take(1, report(2, [], 2), 50);
    expect(readings.complete()).toBe(true);
  });

  it('leaves out rafts the rig does not have', () => {
    const readings = new Readings(1, 1);
    readings.take(0, report(1, [], 3), 0);
    expect(readings.observe(at(0)).rafts).toHaveLength(1);
  });
});
