/** A welcome held against the rig: whatever the rig claims beyond the device forbids a start. */
import { describe, expect, it } from 'vitest';
import type { Welcome } from '../../src/link/frames.js';
import { loadRig } from '../../src/rig/load.js';
import { faultsOf, helloOf, rolesOfPort } from '../../src/supervisor/handshake.js';

const { rig } = loadRig('depot-cable');
const split = loadRig('depot-split').rig;
const good: Welcome = {
  verb: 'welcome',
  ...{ version: 1, model: 'bench', serial: '1', firmware: '1.0.0', calibratedOn: 20300101 },
  maxCurrentA: rig.converter.maxCurrentA,
  maxVoltageV: rig.converter.maxVoltageV,
  watchdogMs: rig.link.deviceWatchdogMs,
  periodMs: rig.link.periodMs,
  latched: false,
  roles: rolesOfPort(rig, 0),
};

describe('the handshake', () => {
  it('asks for what the rig needs of the port', () => {
    const { periodMs, deviceWatchdogMs } = rig.link;
    expect(helloOf(rig, 0)).toMatchObject({ version: 1, periodMs, watchdogMs: deviceWatchdogMs });
    expect(helloOf(split, 0).roles).toEqual(['converter', 'meter']);
    expect(helloOf(split, 1).roles).toContain('raft4');
  });

  it('finds nothing wrong with a device that can do more', () => {
    expect(faultsOf(good, rig, 0)).toEqual([]);
    expect(faultsOf({ ...good, maxCurrentA: 5000, maxVoltageV: 5000, watchdogMs: 1 }, rig, 0)).toEqual([]);
  });

  it.each([
    ['less current', { maxCurrentA: good.maxCurrentA - 1 }, 'converter.maxCurrentA'],
    ['less voltage', { maxVoltageV: good.maxVoltageV - 1 }, 'converter.maxVoltageV'],
    ['a current it cannot state', { maxCurrentA: Number.NaN }, 'converter.maxCurrentA'],
    ['a slower report', { periodMs: good.periodMs + 1 }, 'link.periodMs'],
    [
      'a slower watchdog than the silence limit',
      { watchdogMs: rig.link.silenceMs + 1 },
      'link.deviceWatchdogMs',
    ],
    ['another protocol', { version: 2 }, 'link.ports'],
    ['a role less', { roles: good.roles.filter((r) => r !== 'meter') }, 'link.ports'],
  ])('refuses %s', (_what, change, setting) => {
    const faults = faultsOf({ ...good, ...change }, rig, 0);
    expect(faults).toMatchObject([{ code: 'device-limits', setting }]);
    expect(faults[0]?.part).toMatch(/^charger: /);
  });

  it('asks current and voltage only of the port that has the converter', () => {
    const field = { ...good, roles: rolesOfPort(split, 1), maxCurrentA: 0, maxVoltageV: 0 };
    expect(faultsOf(field, split, 1)).toEqual([]);
  });
});
