import { describe, expect, test } from 'vitest';
import { Supply } from '../../simulators/supply.js';
import { Bench, rigOf } from './fixture.js';

const depot = rigOf('depot-cable');

function run(supply: Supply, seconds: number, powerW: (s: number) => number) {
  let lowHz = Number.POSITIVE_INFINITY;
  let lowV = Number.POSITIVE_INFINITY;
  for (let k = 0; k < seconds * 100; k++) {
    supply.step(0.01, powerW(k / 100));
    lowHz = Math.min(lowHz, supply.frequencyHz());
    lowV = Math.min(lowV, supply.voltageV());
  }
  return { lowHz, lowV };
}

describe('engine-driven set', () => {
  test('runs at nominal under full load and the droop above it without', () => {
    const supply = new Supply(depot);
    run(supply, 5, () => 0);
    expect(supply.frequencyHz()).toBeCloseTo(51.5, 1);
    run(supply, 60, (s) => Math.min(1, s / 40) * 400_000);
    expect(supply.frequencyHz()).toBeCloseTo(50, 1);
    expect(supply.voltageV()).toBeCloseTo(400, 0);
  });

  test('takes the slope its rig states without leaving its band', () => {
    const supply = new Supply(depot);
    const low = run(supply, 20, (s) => Math.min(250_000, s * 20_000));
    expect(low.lowHz).toBeGreaterThan(49);
    expect(low.lowV).toBeGreaterThan(380);
  });

  test('a load step dips speed and voltage, then both recover', () => {
    const supply = new Supply(depot);
    run(supply, 2, () => 20_000);
    const before = supply.frequencyHz();
    const low = run(supply, 20, () => 220_000);
    const settled = supply.frequencyHz();
    expect(low.lowHz).toBeLessThan(settled - 1);
    expect(low.lowV).toBeLessThan(375);
    expect(settled).toBeLessThan(before);
    // Droop: half the rated power costs half of 3 %.
    expect(before - settled).toBeCloseTo(0.75, 1);
    expect(supply.voltageV()).toBeCloseTo(400, 0);
  });
});

test('a store has no frequency and sags by its internal resistance', () => {
  const supply = new Supply(rigOf('terminus-shoes'));
  run(supply, 1, () => 0);
  const openV = supply.voltageV();
  run(supply, 1, () => 1_000_000);
  expect(supply.frequencyHz()).toBeNaN();
  const amps = 1_000_000 / supply.voltageV();
  expect(openV - supply.voltageV()).toBeCloseTo(amps * 0.01, 1);
});

test('supply-sags stays low; supply-dips comes back', () => {
  const bench = new Bench();
  bench.world.inject({ fault: 'supply-sags' });
  bench.go(5000);
  expect(bench.world.read('supply').frequencyHz).toBeLessThan(46.5);
  expect(bench.world.read('supply').voltageV).toBeLessThan(345);
  const other = new Bench();
  other.world.inject({ fault: 'supply-dips' });
  other.go(1400);
  expect(other.world.read('supply').voltageV).toBeLessThan(345);
  other.go(4000);
  expect(other.world.read('supply').voltageV).toBeGreaterThan(395);
});

test('an open breaker stops delivery within moments', () => {
  const bench = new Bench();
  bench.chargeAt(100);
  bench.order('trip-supply', {});
  bench.go(100);
  expect(bench.world.read('supply').breakerClosed).toBe(0);
  expect(bench.world.parts.circuit.poleA('p')).toBeLessThan(0.1);
  expect(bench.world.read('supply').powerW).toBe(0);
});
