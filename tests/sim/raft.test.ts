import { describe, expect, test } from 'vitest';
import { ManagementUnit } from '../../simulators/management-unit.js';
import { ocvGrid, Raft } from '../../simulators/raft.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { Bench, rigOf } from './fixture.js';

const start = { soc: 0.5, cellC: 25, ambientC: 25, spreadV: 0 };

function raftOf(cell: Partial<ReturnType<typeof rigOf>['battery']['raft']['cell']>, soc = 0.5) {
  const rig = rigOf('depot-cable', (r) => {
    Object.assign(r.battery.raft.cell, cell);
    r.battery.raft.seriesCells = 1;
    r.battery.raft.parallelCells = 1;
    r.battery.raft.barsOhm = 0;
  }).battery.raft;
  return new Raft(rig, 'battery', { ...start, soc }, new SeededRandom(1));
}

describe('raft', () => {
  test('W16: 100 A step on R0 0.4, R1 0.6 milliohm, tau 30 s', () => {
    const raft = raftOf({
      ocv: [
        { soc: 0, v: 3 },
        { soc: 0.5, v: 3 },
        { soc: 1, v: 3 },
      ],
      r0Ohm: 0.4e-3,
      r1Ohm: 0.6e-3,
      tau1S: 30,
      r2Ohm: 0,
      capacityAh: 1e6,
      heatCapacityJPerK: 1e9,
    });
    const overMv = () => (raft.packV() - 3) * 1000;
    raft.packA = 100;
    expect(overMv()).toBeCloseTo(40, 6);
    const at: Record<number, number> = {};
    for (let k = 1; k <= 15_000; k++) {
      raft.step(0.01, 100);
      at[k / 100] = overMv();
    }
    expect(at[10]).toBeCloseTo(57.01, 2);
    expect(at[30]).toBeCloseTo(77.93, 2);
    expect(at[60]).toBeCloseTo(91.88, 2);
    expect(at[150]).toBeCloseTo(99.6, 2);
  });

  test('two pairs add, and both die away at rest', () => {
    const raft = raftOf({
      r1Ohm: 0.01,
      tau1S: 5,
      r2Ohm: 0.02,
      tau2S: 50,
      capacityAh: 1e6,
      heatCapacityJPerK: 1e9,
    });
    for (let k = 0; k < 3000; k++) raft.step(0.01, 10);
    expect(raft.pair1V).toBeCloseTo(0.1 * (1 - Math.exp(-6)), 6);
    expect(raft.pair2V).toBeCloseTo(0.2 * (1 - Math.exp(-0.6)), 6);
    for (let k = 0; k < 60_000; k++) raft.step(0.01, 0);
    expect(raft.pair1V + raft.pair2V).toBeLessThan(1e-5);
  });

  test('counts charge', () => {
    const raft = raftOf({ capacityAh: 5 }, 0.2);
    for (let k = 0; k < 360_000; k++) raft.step(0.01, 1);
    expect(raft.soc).toBeCloseTo(0.4, 6);
  });

  test('open-circuit volts lie on the table and between its points', () => {
    const grid = ocvGrid([
      { soc: 0, v: 3 },
      { soc: 0.5, v: 3.5 },
      { soc: 1, v: 4.2 },
    ]);
    expect(grid[0]).toBe(3);
    expect(grid[250]).toBeCloseTo(3.25, 9);
    expect(grid[500]).toBeCloseTo(3.5, 9);
    expect(grid[750]).toBeCloseTo(3.85, 9);
    expect(grid[1000]).toBeCloseTo(4.2, 9);
  });

  test('resistance doubles for each step of cold', () => {
    const raft = raftOf({ coldDoublingK: 20 });
    const warm = raft.seriesOhm();
    raft.setCellC(5);
    expect(raft.seriesOhm() / warm).toBeCloseTo(2, 9);
    raft.setCellC(-15);
    expect(raft.seriesOhm() / warm).toBeCloseTo(4, 9);
  });

  test('heat warms the cell by energy over heat capacity', () => {
    const raft = raftOf({
      r0Ohm: 0.02,
      r1Ohm: 1e-9,
      r2Ohm: 0,
      heatCapacityJPerK: 70,
      thermalResistanceKPerW: 1e9,
    });
    for (let k = 0; k < 10_000; k++) raft.step(0.01, 5);
    expect(raft.cellC - 25).toBeCloseTo((25 * 0.02 * 100) / 70, 3);
    expect(raft.heatJ).toBeCloseTo(50, 2);
  });
});

describe('rafts on the bus', () => {
  test('share the current by their resistances', () => {
    const bench = new Bench({
      start: { rafts: [{ cellC: 25 }, { cellC: 25 }, { cellC: -5 }, { cellC: -5 }] },
    });
    bench.chargeAt(200);
    const { circuit, rafts } = bench.world.parts;
    const trainV = circuit.trainV();
    for (const [i, raft] of rafts.entries())
      expect(circuit.raftA(i)).toBeCloseTo((trainV - raft.emfV()) / raft.seriesOhm(), 1);
    expect(circuit.raftA(0)).toBeGreaterThan(1.2 * circuit.raftA(2));
  });

  test('joining goes through the limiting resistor first', () => {
    const bench = new Bench({ start: { rafts: [{ soc: 0.3 }, { soc: 0.5 }] } });
    bench.order('join-raft', { raft: 1 });
    bench.go(500);
    bench.order('join-raft', { raft: 2 });
    let peakA = 0;
    for (let k = 0; k < 300; k++) {
      bench.go(1);
      peakA = Math.max(peakA, bench.world.parts.circuit.raftA(0));
    }
    expect(bench.world.read('raft', 2).joined).toBe(0);
    expect(peakA).toBeGreaterThan(0.1);
    expect(peakA).toBeLessThan(1); // some 25 V over 50 ohm
    bench.go(200);
    expect(bench.world.read('raft', 2).joined).toBe(1);
    expect(bench.world.parts.circuit.raftA(0)).toBeGreaterThan(20);
  });

  test('one dropping out leaves its current to the others', () => {
    const bench = new Bench();
    bench.chargeAt(200);
    bench.world.inject({ fault: 'raft-drops-out', part: 'raft2' });
    bench.go(2000);
    const each = [1, 2, 3, 4].map((n) => bench.world.read('raft', n));
    expect(each[1]?.joined).toBe(0);
    expect(each[1]?.packA).toBe(0);
    expect(each[0]?.packA).toBeGreaterThan(60);
    expect(bench.world.read('meter').currentA).toBeCloseTo(200, 0);
  });
});

describe('management unit', () => {
  const rig = rigOf('depot-cable').battery.raft;
  const shareAt = (cellMaxV: number, cellMinC = 25, cellMaxC = 25) => {
    const unit = new ManagementUnit(rig);
    unit.settle(cellMaxV, cellMinC, cellMaxC);
    return unit.allowedA / rig.maxCurrentA;
  };

  test('tapers towards the ceiling and never falls to nothing below it', () => {
    expect(shareAt(rig.ceilingCellV - 0.05)).toBe(1);
    expect(shareAt(rig.ceilingCellV - 0.015)).toBeCloseTo(0.525, 6);
    expect(shareAt(rig.ceilingCellV)).toBeCloseTo(0.05, 6);
    expect(shareAt(rig.maxCellV)).toBe(0);
  });

  test('heat takes it down, cold takes it away', () => {
    expect(shareAt(3.6, 25, rig.derateFromC)).toBe(1);
    expect(shareAt(3.6, 25, rig.maxChargeC)).toBeCloseTo(0.25, 6);
    expect(shareAt(3.6, 25, rig.maxChargeC + 0.1)).toBe(0);
    expect(shareAt(3.6, rig.minChargeC - 0.1)).toBe(0);
    expect(shareAt(3.6, rig.minChargeC)).toBeCloseTo(0.2, 6);
  });

  test('alarm 2 only well beyond a hard limit and not at once', () => {
    const unit = new ManagementUnit(rig);
    unit.step(1, rig.maxCellV + 0.02, 3.5, 25, 25);
    expect(unit.alarm).toBe(1);
    unit.step(1, rig.maxCellV + 0.1, 3.5, 25, 25);
    expect(unit.alarm).toBe(1);
    unit.step(1.5, rig.maxCellV + 0.1, 3.5, 25, 25);
    expect(unit.alarm).toBe(2);
  });
});
