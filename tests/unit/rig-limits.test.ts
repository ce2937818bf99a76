import { describe, expect, it } from 'vitest';
import { bindingAt, bindingTable, conditionsAtSoc, listLimits, raftCurrentA } from '../../src/rig/limits.js';
import { loadRig } from '../../src/rig/load.js';
import { rampKwPerS } from '../../src/rig/rules/charger.js';
import { unitOf } from '../../src/rig/units.js';
import { openCircuitV, packV, raftOhm } from '../../src/rig/volts.js';

const depot = loadRig('depot-cable');
const { rig } = depot;
const bound = (at: Parameters<typeof bindingAt>[1]) => bindingAt(rig, at)[0]!;
const of = (limit: string, at: Parameters<typeof bindingAt>[1]) =>
  bindingAt(rig, at).find((l) => l.limit === limit)!.currentA;

describe('list of limits', () => {
  const rows = listLimits(depot);
  it('has every limit with value, unit and source', () => {
    expect(rows).toHaveLength(depot.sources.size);
    expect(rows.find((r) => r.path === 'connection.ratedCurrentA')).toEqual({
      path: 'connection.ratedCurrentA',
      value: 300,
      unit: 'A',
      source: expect.stringMatching(/^common practice, no source/),
    });
    for (const row of rows) expect(Number.isFinite(row.value), row.path).toBe(true);
  });
  it('leaves a unit out only where there is none', () => {
    expect(rows.filter((r) => r.unit === '').map((r) => r.path)).toEqual(['ramp.steepFactor']);
  });
  it.each([
    ['isolation.minOhmPerVolt', 'ohm/V'],
    ['ramp.upAPerS', 'A/s'],
    ['supply.slopeKwPerS', 'kW/s'],
    ['times.securingS', 's'],
    ['link.silenceMs', 'ms'],
    ['battery.raft.maxChargeC', 'degC'],
    ['battery.floorSoc', 'share 0..1'],
    ['connection.cable.thermalResistanceKPerW', 'K/W'],
    ['converter.lossVoltsPerA', 'V'],
    ['pilot.sourceVrms', 'V r.m.s.'],
    ['connection.cable.mm2', 'mm2'],
  ])('reads the unit off %s', (path, unit) => {
    expect(unitOf(path)).toBe(unit);
  });
});

describe('which limit binds', () => {
  it('is the connection in ordinary service', () => {
    expect(bound({ trainV: 700 })).toMatchObject({ setting: 'connection.ratedCurrentA', currentA: 300 });
  });
  it('is the cable in hot air, and nothing is permitted beyond its table', () => {
    expect(of('cable rating in this air', { trainV: 700, ambientC: 55 })).toBeCloseTo(280.44, 2);
    expect(bound({ trainV: 700, ambientC: 55 }).setting).toMatch(/^connection\.cable/);
    expect(bound({ trainV: 700, ambientC: 65 }).currentA).toBe(0);
  });
  it('is the cell ceiling near the top, and the rafts when warm or cold', () => {
    expect(bound(conditionsAtSoc(rig, 0.95))).toMatchObject({ setting: 'battery.raft.ceilingCellV' });
    expect(bound({ trainV: 700, cellC: 43 })).toMatchObject({ setting: 'battery.raft.maxCurrentA' });
    expect(bound({ trainV: 700, cellC: 43 }).currentA).toBeCloseTo(4 * 120 * 0.4, 9);
    expect(bound({ trainV: 700, cellC: -1 }).currentA).toBe(0);
    expect(bound({ trainV: 700, cellC: Number.NaN }).currentA).toBe(0);
    expect([raftCurrentA(rig, 40), raftCurrentA(rig, 45), raftCurrentA(rig, 46)]).toEqual([120, 0, 0]);
  });
  it('takes power at the voltage the current itself makes', () => {
    const currentA = of('converter power', { trainV: 700 });
    expect(currentA * (700 + (currentA * raftOhm(rig)) / 4)).toBeCloseTo(rig.converter.maxPowerW, 3);
    const supplyA = of('supply power', { trainV: 700 });
    const drawnW =
      supplyA * (700 + (supplyA * raftOhm(rig)) / 4 + rig.converter.lossVoltsPerA) +
      rig.converter.noLoadLossW;
    expect(drawnW).toBeCloseTo(rig.supply.maxPowerW, 3);
  });
  it('permits nothing outside the converter range, or on no voltage at all', () => {
    expect(bound({ trainV: 390 }).currentA).toBe(0);
    expect(bound({ trainV: 860 }).currentA).toBe(0);
    expect(bound({ trainV: Number.NaN }).currentA).toBe(0);
  });
  it('is tabled from 500 to 900 V', () => {
    const table = bindingTable(rig);
    expect(table.map((r) => r.trainV)).toEqual([500, 550, 600, 650, 700, 750, 800, 850, 900]);
    for (const { binding, limits } of table) {
      expect(binding.currentA).toBe(Math.min(...limits.map((l) => l.currentA)));
    }
    expect(bindingTable(rig, {}, { fromV: 500, toV: 400, stepV: 50 })).toEqual([]);
  });
  it('leaves 1500 A to the shoes', () => {
    expect(bindingAt(loadRig('terminus-shoes').rig, { trainV: 700 })[0]).toMatchObject({ currentA: 1500 });
  });
});

describe('W22', () => {
  it('20 A/s at 750 V is 15 kW/s, and 225 kW take 15 s', () => {
    expect(rampKwPerS(20, 750)).toBe(15);
    expect(225 / rampKwPerS(20, 750)).toBe(15);
  });
});

describe('the pack of the depot rig', () => {
  it('holds about 100 kWh a raft between 0 and 1', () => {
    const steps = Array.from({ length: 1000 }, (_, i) =>
      packV(rig, openCircuitV(rig.battery.raft.cell, (i + 0.5) / 1000)),
    );
    const ah = rig.battery.raft.parallelCells * rig.battery.raft.cell.capacityAh;
    const kwh = (ah * steps.reduce((sum, v) => sum + v, 0)) / steps.length / 1000;
    expect(kwh).toBeGreaterThan(97);
    expect(kwh).toBeLessThan(103);
  });
  it('has no voltage outside its table', () => {
    expect(openCircuitV(rig.battery.raft.cell, 0)).toBe(2.8723);
    expect(openCircuitV(rig.battery.raft.cell, 1)).toBe(4.1753);
    expect(openCircuitV(rig.battery.raft.cell, 1.01)).toBeNaN();
    expect(openCircuitV(rig.battery.raft.cell, Number.NaN)).toBeNaN();
  });
});
