/** Ports of roles, clocks of samples, names and resistances of rafts. */
import { describe, expect, it } from 'vitest';
import type { Seen } from '../../../src/checks/check.js';
import {
  coldFactor,
  isBattery,
  joinedOf,
  portOf,
  raftName,
  raftOhm,
  reportMarginMs,
  sampleMs,
} from '../../../src/checks/where.js';
import { loadRig } from '../../../src/rig/load.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, generatorYard, Scene, shoes } from './build.js';
import { PartialScene } from './partial-scene.js';

const split = loadRig('depot-split').rig;
type Served = Rig['link']['ports'][number]['roles'];
const wired = (...ports: Served[]): Rig => ({
  ...depot,
  link: {
    ...depot.link,
    ports: ports.map((roles, index) => ({ ...depot.link.ports[0]!, name: `port-${index}`, roles })),
  },
});

describe('the port of a role', () => {
  it('is the one that serves it', () => {
    expect(portOf(split, 'meter')).toBe(0);
    expect(portOf(split, 'latch')).toBe(1);
    expect(portOf(shoes, 'loop')).toBe(-1);
    // Where two do, the first.
    expect(portOf(wired(['stop'], ['meter'], ['meter', 'stop']), 'meter')).toBe(1);
    expect(portOf(wired(['stop'], ['meter'], ['meter', 'stop']), 'stop')).toBe(0);
  });
  it('serves rafts together or one by one', () => {
    const rig = wired(['meter', 'raft2'], ['raft1', 'raft8'], ['raft3']);
    expect([0, 1, 2, 3, 7, 8].map((raft) => portOf(rig, 'raft', raft))).toEqual([1, 0, 2, -1, 1, -1]);
    expect(portOf(rig, 'raft')).toBe(-1);
    expect([0, 3, undefined].map((raft) => portOf(split, 'raft', raft))).toEqual([1, 1, 1]);
    // Named together on one port and alone on another: the first of both.
    expect([0, 1].map((raft) => portOf(wired(['raft2'], ['raft'], ['raft1']), 'raft', raft))).toEqual([1, 0]);
    expect(portOf(wired(['raft'], ['raft1']), 'raft', 0)).toBe(0);
    expect(portOf(wired(['raft1'], ['raft']), 'raft', 0)).toBe(0);
    expect(portOf(wired(['raft1'], ['stop']), 'raft', 0)).toBe(0);
  });
});

describe('the time of a sample', () => {
  it('is on the clock of the device that took it, or on ours where that cannot be read', () => {
    const scene = new PartialScene(split);
    const clocked = (clockMs: readonly [number, number]) => {
      const seen = scene.report();
      const device = seen.device.map(
        (d, port) => d && { ...d, value: { ...d.value, clockMs: clockMs[port]! } },
      );
      return { ...seen, device };
    };
    expect(sampleMs(clocked([111, 222]), split, 'meter')).toBe(111);
    expect(sampleMs(clocked([111, 222]), split, 'latch')).toBe(222);
    expect(sampleMs(clocked([Number.NaN, 222]), split, 'meter')).toBe(scene.nowMs);
    expect(sampleMs(clocked([111, 222]), shoes, 'loop')).toBe(scene.nowMs);
    scene.silentDevices.add(0);
    expect(sampleMs(clocked([111, 222]), split, 'meter')).toBe(scene.nowMs);
  });
  it('may be two reports and 50 ms behind an order', () => {
    expect(reportMarginMs(depot)).toBe(2 * 50 + 50);
  });
});

describe('rafts', () => {
  it('have the rig’s names, and a number where it has none', () => {
    expect(raftName(depot, 0)).toBe('raft-1');
    expect(raftName({ ...depot, battery: { ...depot.battery, rafts: [] } }, 8)).toBe('raft-9');
    const named = { ...depot.battery.rafts[0]!, name: 'rear' };
    expect(raftName({ ...depot, battery: { ...depot.battery, rafts: [named] } }, 0)).toBe('rear');
  });
  it('are batteries or not; one that is not there is none', () => {
    const kinds = generatorYard.battery.rafts.map((raft) => raft.kind === 'battery');
    expect(new Set(kinds)).toEqual(new Set([true, false]));
    expect(kinds.map((_, raft) => isBattery(generatorYard, raft))).toEqual(kinds);
    expect(isBattery(depot, 99)).toBe(false);
  });
  it('are joined when they say so', () => {
    const scene = new Scene(shoes);
    for (const [raft, joined] of [0, 1, Number.NaN, 2, 1, 0].entries()) scene.rafts[raft]!.joined = joined;
    const seen = scene.report().rafts;
    expect(joinedOf(seen)).toEqual([1, 4]);
    expect(joinedOf([null, ...(seen as Seen<'raft'>[]), null])).toEqual([2, 5]);
    expect(joinedOf([])).toEqual([]);
  });
  it('resist twice as much for every 45 K below 25 °C', () => {
    expect(coldFactor(depot, -20)).toBe(2);
    expect(coldFactor(depot, 2.5)).toBeCloseTo(Math.SQRT2, 12);
    for (const warm of [25, 40, Number.NaN]) expect(coldFactor(depot, warm)).toBe(1);
    // 192 cells of 24 mΩ in series, 28 in parallel, and 10 mΩ of bars, which the cold leaves alone.
    expect(raftOhm(depot, 25)).toBeCloseTo((192 * 0.024) / 28 + 0.01, 12);
    expect(raftOhm(depot, -20)).toBeCloseTo((2 * 192 * 0.024) / 28 + 0.01, 12);
  });
});
