import { describe, expect, test } from 'vitest';
import { FAULTS } from '../../simulators/faults.js';
import { parseScenario, type Scenario, vary } from '../../simulators/scenario.js';
import { SeededRandom } from '../../simulators/seeded-random.js';

const text = `name: loop-opened
title: The pilot loop opens while current flows
rig: depot-cable
seed: 17
start: { soc: 0.4 }
wish: { targetSoc: 0.6 }
inject:
  - { fault: loop-open, phase: holding, afterS: 5 }
  - { fault: loop-leak, phase: holding, afterS: 10, magnitude: 1000 }
expect: { outcome: tripped, code: loop-open, phase: holding, effect: trip-0, exit: 3 }
`;

function good(source: string): Scenario {
  const { scenario, problems } = parseScenario(source);
  expect(problems).toEqual([]);
  return scenario!;
}

describe('reading', () => {
  test('a whole scenario', () => {
    const scenario = good(text);
    expect(scenario.inject).toHaveLength(2);
    expect(scenario.orders).toEqual([]);
  });

  test('every problem is named with its line', () => {
    const broken = text
      .replace('fault: loop-open,', 'fault: loop-opne,')
      .replace('exit: 3', 'exit: 33')
      .replace('seed: 17', 'seed: x');
    const { scenario, problems } = parseScenario(broken);
    expect(scenario).toBeNull();
    const at = Object.fromEntries(problems.map((p) => [p.path, p.line]));
    expect(at).toEqual({ seed: 4, 'inject.0.fault': 8, 'expect.exit': 10 });
  });

  test('an unknown key, a missing key, broken YAML', () => {
    expect(parseScenario(`${text}colour: red\n`).problems[0]?.message).toMatch(/colour/);
    expect(parseScenario(text.replace('seed: 17\n', '')).problems).toMatchObject([{ path: 'seed' }]);
    expect(parseScenario('name: [').problems[0]?.line).toBeGreaterThan(0);
    expect(parseScenario('').scenario).toBeNull();
  });
});

describe('variations', () => {
  const scenario = good(text);

  test('0 is the scenario itself', () => {
    expect(vary(scenario, 0, new SeededRandom(1))).toBe(scenario);
  });

  test('the corners are the full 20 %', () => {
    const corners = [1, 2, 3, 4].map((k) => vary(scenario, k, new SeededRandom(1)).inject[1]!);
    expect(corners.map((i) => [i.afterS, i.magnitude])).toEqual([
      [8, 800],
      [8, 1200],
      [12, 800],
      [12, 1200],
    ]);
  });

  test('all others lie within 20 % and follow the random source', () => {
    const random = new SeededRandom(3);
    for (let k = 5; k < 50; k++) {
      const [, leak] = vary(scenario, k, random).inject;
      expect(Math.abs(leak!.afterS! / 10 - 1)).toBeLessThanOrEqual(0.2);
      expect(Math.abs(leak!.magnitude! / 1000 - 1)).toBeLessThanOrEqual(0.2);
    }
    expect(vary(scenario, 9, new SeededRandom(2))).toEqual(vary(scenario, 9, new SeededRandom(2)));
  });

  test('a fault without a unit has no size to vary', () => {
    expect(vary(scenario, 1, new SeededRandom(1)).inject[0]!.magnitude).toBe(FAULTS['loop-open'].magnitude);
  });
});

describe('seeded random', () => {
  test('is reproducible, uniform and normal enough', () => {
    const a = new SeededRandom(9);
    const b = new SeededRandom(9);
    for (let k = 0; k < 100; k++) expect(a.uint32()).toBe(b.uint32());
    let sum = 0;
    let squares = 0;
    let uniform = 0;
    for (let k = 0; k < 20_000; k++) {
      const g = a.gaussian();
      sum += g;
      squares += g * g;
      uniform += a.unit();
    }
    expect(Math.abs(sum / 20_000)).toBeLessThan(0.03);
    expect(Math.abs(squares / 20_000 - 1)).toBeLessThan(0.05);
    expect(Math.abs(uniform / 20_000 - 0.5)).toBeLessThan(0.01);
  });

  test('forks do not disturb each other', () => {
    const one = new SeededRandom(4);
    const first = one.fork('a').uint32();
    const two = new SeededRandom(4);
    const stream = two.fork('a');
    expect(stream.uint32()).toBe(first);
    expect(new SeededRandom(4).fork('b').uint32()).not.toBe(first);
  });
});
