import { describe, expect, test } from 'vitest';
import { Cell, evenGrid, temperatureFactor } from '../../simulators/cell.js';
import { Raft } from '../../simulators/raft.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { Rig } from '../../src/rig/schema.js';
import { loadText, refusal, variant } from '../unit/rig-files.js';
import { rigOf } from './fixture.js';

type RaftFigures = Rig['battery']['raft'];
const figures = rigOf('depot-cable').battery.raft;
const START = { soc: 0.5, cellC: 25, ambientC: 25 };
const cellOf = (cell: Partial<RaftFigures['cell']>, start: Partial<typeof START> = {}) =>
  new Cell({ ...figures.cell, heatCapacityJPerK: 1e9, ...cell }, { ...START, ...start });
const raftOf = (raft: Partial<RaftFigures>, spreadV = 0) =>
  new Raft({ ...figures, barsOhm: 0, ...raft }, 'battery', { ...START, spreadV }, new SeededRandom(1));

describe('cell', () => {
  const overSoc = [
    { soc: 0, r0Ohm: 0.04, r1Ohm: 0.03, r2Ohm: 0 },
    { soc: 0.5, r0Ohm: 0.02, r1Ohm: 0.01, r2Ohm: 0.005 },
    { soc: 1, r0Ohm: 0.03, r1Ohm: 0.02, r2Ohm: 0.01 },
  ];

  test('resistances lie on their table and between its points', () => {
    expect(cellOf({ overSoc }).r0Ohm()).toBeCloseTo(0.02, 12);
    expect(cellOf({ overSoc }, { soc: 0.25 }).r0Ohm()).toBeCloseTo(0.03, 12);
    expect(cellOf({ overSoc }, { soc: 1.2 }).r0Ohm()).toBeCloseTo(0.03, 12);
    const cell = cellOf({ overSoc, capacityAh: 1e6, tau1S: 5, tau2S: 5 });
    for (let k = 0; k < 100; k++) cell.step(1, 10);
    expect(cell.pair1V).toBeCloseTo(0.1, 6);
    expect(cell.pair2V).toBeCloseTo(0.05, 6);
  });

  test('the factor of the temperature comes from its table where there is one', () => {
    const overTemperature = [
      { cellC: 0, factor: 2 },
      { cellC: 25, factor: 1 },
      { cellC: 45, factor: 0.8 },
    ];
    const factorAt = (cellC: number) => temperatureFactor({ ...figures.cell, overTemperature }, cellC);
    expect([-20, 0, 12.5, 25, 35, 60].map(factorAt)).toEqual([2, 2, 1.5, 1, 0.9, 0.8]);
    expect(temperatureFactor(figures.cell, 60)).toBe(1);
    const cell = cellOf({ overTemperature }, { cellC: 0 });
    expect(cell.r0Ohm()).toBeCloseTo(2 * figures.cell.r0Ohm, 12);
    cell.setC(45);
    expect(cell.r0Ohm()).toBeCloseTo(0.8 * figures.cell.r0Ohm, 12);
  });

  test('hysteresis follows the current, stays at rest and turns over with the charge', () => {
    const over = [
      { soc: 0, v: 0.02 },
      { soc: 1, v: 0.02 },
    ];
    const cell = cellOf({ hysteresis: { turnsOverShare: 0.1, over }, capacityAh: 1 });
    cell.step(3600 * 0.1, 1);
    expect(cell.hysteresisV).toBeCloseTo(0.02 * (1 - Math.exp(-1)), 9);
    const held = cell.hysteresisV;
    cell.step(3600, 0);
    expect(cell.hysteresisV).toBe(held);
    for (let k = 0; k < 100; k++) cell.step(3600 * 0.01, -1);
    expect(cell.hysteresisV).toBeCloseTo(-0.02, 5);
  });

  test('a grid is level beyond its table', () => {
    const grid = evenGrid(
      [
        { x: 0.2, y: 1 },
        { x: 0.4, y: 3 },
      ],
      (p) => p.x,
      (p) => p.y,
    );
    expect([grid[0], grid[200], grid[300], grid[400], grid[1000]]).toEqual([
      1,
      1,
      expect.closeTo(2, 9),
      3,
      3,
    ]);
  });
});

describe('parallel strings', () => {
  test('share by conductance: the raft has their harmonic mean, the best string runs hotter', () => {
    const even = raftOf({ parallelCells: 2 });
    const uneven = raftOf({ parallelCells: 2, stringSpread: 0.2 });
    // 0.8 and 1.2 in parallel make 0.48, equal ones 0.5.
    expect(uneven.seriesOhm() / even.seriesOhm()).toBeCloseTo(0.96, 9);
    for (const raft of [even, uneven]) for (let k = 0; k < 60_000; k++) raft.step(0.1, 10);
    expect(even.cellMinC()).toBeCloseTo(uneven.cellMinC(), 6);
    // Power of a string goes with its share of the current at the same volts: 1.2 times the mean.
    const riseK = even.cellC - START.ambientC;
    expect(uneven.cellMaxC() - even.cellMaxC()).toBeCloseTo(0.2 * riseK, 2);
  });
});

describe('balancing', () => {
  const balancing = { currentA: 0.5, aboveCellV: 3.6 };
  const run = (raft: Raft, hours: number) => {
    for (let k = 0; k < hours * 360; k++) raft.step(10, 0);
    return raft.spreadV;
  };
  test('closes the spread by the slope of the open-circuit volts times the charge drawn', () => {
    const raft = raftOf({ balancing, parallelCells: 1 }, 0.05);
    const slopeV = raft.cell.ocvSlopeV();
    expect(run(raft, 0.1)).toBeCloseTo(0.05 - (slopeV * 0.05) / figures.cell.capacityAh, 6);
    expect(run(raft, 20)).toBe(0);
  });
  test('does nothing below its threshold, or where the rig has none', () => {
    expect(run(raftOf({ balancing: { ...balancing, aboveCellV: 4 } }, 0.05), 1)).toBe(0.05);
    expect(run(raftOf({}, 0.05), 1)).toBe(0.05);
  });
});

describe('in a rig', () => {
  const cell = (lines: string) => variant(`battery:\n  raft:\n    cell:\n${lines}`);

  test('the published form of open-circuit volts becomes a table (W17)', () => {
    const { rig } = loadText(
      cell('      ocv: { exponentialV: -1.031, rate: -35, polynomialV: [3.685, 0.2156, -0.1178, 0.3201] }\n'),
    );
    const { ocv } = rig.battery.raft.cell;
    expect(ocv).toHaveLength(101);
    for (const [k, v] of [
      [0, 2.654],
      [10, 3.67457],
      [50, 3.80336],
      [80, 3.94598],
      [100, 4.1029],
    ] as const)
      expect(ocv[k]?.v).toBeCloseTo(v, 4);
  });

  test('tables must rise', () => {
    const table = '      overSoc:\n        - { soc: 0.5, r0Ohm: 0.02, r1Ohm: 0.01, r2Ohm: 0 }\n';
    expect(
      refusal(cell(`${table}        - { soc: 0.5, r0Ohm: 0.02, r1Ohm: 0.01, r2Ohm: 0 }\n`)).message,
    ).toMatch(/battery\.raft\.cell\.overSoc\.1\.soc: 0\.5 must be above 0\.5 before it/);
    const warm = '      overTemperature: [{ cellC: 25, factor: 1 }, { cellC: 10, factor: 2 }]\n';
    expect(refusal(cell(warm)).message).toMatch(/overTemperature\.1\.cellC: 10 must be above 25/);
  });
});
