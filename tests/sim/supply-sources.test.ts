/** Fuel of an engine-driven set and its under-speed trip; what fills a store. */
import { describe, expect, test } from 'vitest';
import { Supply } from '../../simulators/supply.js';
import type { Rig } from '../../src/rig/schema.js';
import { loadText, variant } from '../unit/rig-files.js';
import { rigOf } from './fixture.js';

const supplyOf = (name: string, supply: Partial<Rig['supply']>, start = {}) =>
  new Supply(
    rigOf(name, (rig) => Object.assign(rig.supply, supply)),
    start,
  );
const run = (supply: Supply, seconds: number, powerW: number, stepS = 0.01) => {
  for (let k = 0; k < Math.round(seconds / stepS); k++) supply.step(stepS, powerW);
};

describe('fuel', () => {
  const fuel = { tankL: 500, idleLPerH: 10, fullLPerH: 110 };
  test('burns along a line from idling to full load', () => {
    const supply = supplyOf('depot-cable', { fuel });
    run(supply, 36, 200_000);
    // Half load: 60 l/h for a hundredth of an hour.
    expect(500 - supply.fuelL).toBeCloseTo(0.6, 6);
  });
  test('a set that runs dry opens its breaker and stops', () => {
    const supply = supplyOf('depot-cable', { fuel }, { fuelL: 0.02 });
    run(supply, 10, 200_000);
    expect(supply.fuelL).toBe(0);
    expect(supply.breakerClosed).toBe(false);
    expect(supply.ready).toBe(false);
    expect(supply.powerW).toBe(0);
    run(supply, 60, 0);
    expect(supply.frequencyHz()).toBeLessThan(1);
    expect(supply.voltageV()).toBeLessThan(10);
  });
  test('a rig without a tank never runs dry', () => {
    expect(supplyOf('depot-cable', {}).fuelL).toBe(Number.POSITIVE_INFINITY);
  });
});

describe('under-speed trip', () => {
  test('rides through a load step, and opens on an overload that holds the set down', () => {
    const supply = supplyOf('depot-cable', { underSpeedTripHz: 45 });
    run(supply, 5, 60_000);
    expect(supply.breakerClosed).toBe(true);
    run(supply, 10, 600_000);
    expect(supply.breakerClosed).toBe(false);
  });
});

describe('store', () => {
  const store = { capacityKwh: 100, internalOhm: 0 };
  test('the slow feed from the line fills it, up to full', () => {
    const supply = supplyOf('terminus-shoes', { ...store, gridFeedW: 20_000 }, { soc: 0.5 });
    run(supply, 3600, 0, 1);
    expect(supply.storeSoc).toBeCloseTo(0.7, 4);
    expect(supply.feedW).toBe(20_000);
    run(supply, 7200, 0, 1);
    expect(supply.storeSoc).toBeCloseTo(1, 3);
  });
  test('gives fast what it took slowly', () => {
    const supply = supplyOf('terminus-shoes', { ...store, gridFeedW: 20_000 }, { soc: 0.9 });
    run(supply, 240, 1_125_000, 0.1);
    // 75 kWh out, 1.33 kWh in.
    expect(supply.storeSoc).toBeCloseTo(0.9 - 0.75 + 0.0133, 3);
  });
  test('sun or wind come by the hour', () => {
    const renewable = [
      { hour: 6, powerW: 0 },
      { hour: 12, powerW: 30_000 },
      { hour: 18, powerW: 0 },
    ];
    const at = (hour: number) => {
      const supply = supplyOf('terminus-shoes', { ...store, renewable }, { soc: 0.5, hour });
      run(supply, 1, 0, 1);
      return supply.feedW;
    };
    expect(at(9)).toBeCloseTo(15_000, -1);
    expect(at(12)).toBeCloseTo(30_000, -1);
    expect(at(2)).toBe(0);
    expect(at(23)).toBe(0);
  });
});

test('a rig is told of keys its kind of supply does not use', () => {
  const { warnings } = loadText(variant('supply:\n  gridFeedW: 1000\n'));
  expect(warnings.map((w) => w.message).join()).toMatch(/not used by a supply of kind engine-set/);
  const fine = loadText(variant('supply:\n  underSpeedTripHz: 45\n')).warnings;
  expect(fine.filter((w) => w.path.startsWith('supply.under'))).toEqual([]);
});
