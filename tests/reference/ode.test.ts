/**
 * The battery and thermal equations of the simulator against a published solver (ODEX of Hairer and Wanner, as the
 * package `odex`): extrapolation with error control there, exact exponentials and Euler steps here. The right-hand
 * sides are written here anew.
 */
import { Solver } from 'odex';
import { describe } from 'vitest';
import { Cable } from '../../simulators/cable.js';
import { Raft } from '../../simulators/raft.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { Rig } from '../../src/rig/schema.js';
import { rigOf } from '../sim/fixture.js';
import { reference } from './reference.js';

type Figures = Rig['battery']['raft']['cell'];
/** Charging, resting, a hard pulse, discharging: A of one cell and s. */
const PROFILE = [
  [4, 1200],
  [0, 600],
  [7.5, 120],
  [-3, 900],
  [2, 780],
] as const;
const STEP_S = 0.01;
const START = { soc: 0.3, cellC: 8, ambientC: 12 } as const;
const SOURCE = 'ODE solver odex 2.0.4, tolerance 1e-10';

interface End {
  readonly soc: number;
  readonly pair1V: number;
  readonly pair2V: number;
  readonly hysteresisV: number;
  readonly cellC: number;
  readonly heatJ: number;
}

const between = <T>(points: readonly T[], x: number, at: (p: T) => number, y: (p: T) => number): number => {
  const high = points.findIndex((p) => at(p) >= x);
  if (high === 0) return y(points[0]!);
  if (high === -1) return y(points.at(-1)!);
  const [a, b] = [points[high - 1]!, points[high]!];
  return y(a) + ((y(b) - y(a)) * (x - at(a))) / (at(b) - at(a));
};

function solved(f: Figures): End {
  const factor = (cellC: number): number =>
    f.overTemperature === undefined
      ? Math.max(1, 2 ** ((25 - cellC) / f.coldDoublingK))
      : between(
          f.overTemperature,
          cellC,
          (p) => p.cellC,
          (p) => p.factor,
        );
  const ohm = (name: 'r0Ohm' | 'r1Ohm' | 'r2Ohm', soc: number, cellC: number): number =>
    factor(cellC) *
    (f.overSoc === undefined
      ? f[name]
      : between(
          f.overSoc,
          soc,
          (p) => p.soc,
          (p) => p[name],
        ));
  const gapV = (soc: number): number =>
    between(
      f.hysteresis?.over ?? [{ soc: 0, v: 0 }],
      soc,
      (p) => p.soc,
      (p) => p.v,
    );
  const solver = new Solver(6);
  solver.relativeTolerance = 1e-10;
  solver.absoluteTolerance = 1e-10;
  solver.maxSteps = 1_000_000;
  let state: number[] = [START.soc, 0, 0, 0, START.cellC, 0];
  let fromS = 0;
  for (const [amps, forS] of PROFILE) {
    const slope = (_t: number, y: number[]): number[] => {
      const [soc, v1, v2, h, cellC] = y as [number, number, number, number, number];
      const perS = amps / (3600 * f.capacityAh);
      const heatW = amps * (amps * ohm('r0Ohm', soc, cellC) + v1 + v2 + h);
      const turns = Math.abs(perS) / (f.hysteresis?.turnsOverShare ?? 1);
      return [
        perS,
        (amps * ohm('r1Ohm', soc, cellC) - v1) / f.tau1S,
        (amps * ohm('r2Ohm', soc, cellC) - v2) / f.tau2S,
        turns * (gapV(soc) * Math.sign(amps) - h),
        (heatW - (cellC - START.ambientC) / f.thermalResistanceKPerW) / f.heatCapacityJPerK,
        heatW,
      ];
    };
    state = solver.solve(slope, fromS, state, fromS + forS).y;
    fromS += forS;
  }
  const [soc, pair1V, pair2V, hysteresisV, cellC, heatJ] = state as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  return { soc, pair1V, pair2V, hysteresisV, cellC, heatJ };
}

function simulated(rig: Rig['battery']['raft']): End {
  const raft = new Raft(rig, 'battery', { ...START, spreadV: 0 }, new SeededRandom(1));
  for (const [amps, forS] of PROFILE)
    for (let k = 0; k < Math.round(forS / STEP_S); k++) raft.step(STEP_S, amps);
  const { soc, pair1V, pair2V, hysteresisV, cellC, heatJ } = raft.cell;
  return { soc, pair1V, pair2V, hysteresisV, cellC, heatJ };
}

const UNITS: Readonly<Record<keyof End, string>> = {
  soc: '',
  pair1V: 'V',
  pair2V: 'V',
  hysteresisV: 'V',
  cellC: '°C',
  heatJ: 'J',
};

function rows(title: string, cell: Partial<Figures>, keys: readonly (keyof End)[]): void {
  const rig = rigOf('depot-cable', ({ battery: { raft } }) => {
    Object.assign(raft.cell, cell);
    raft.seriesCells = 1;
    raft.parallelCells = 1;
    raft.barsOhm = 0;
  }).battery.raft;
  let pair: { ours: End; theirs: End } | null = null;
  const both = () => {
    pair ??= { ours: simulated(rig), theirs: solved(rig.cell) };
    return pair;
  };
  describe(title, () => {
    for (const key of keys) {
      reference({
        quantity: `${title}: ${key} after an hour`,
        unit: UNITS[key],
        ours: () => both().ours[key],
        reference: () => both().theirs[key],
        tolerance: { share: 0.001 },
        source: SOURCE,
        trust: 'computed',
      });
    }
  });
}

rows('cell, single resistances, cold', {}, ['soc', 'pair1V', 'pair2V', 'cellC', 'heatJ']);
rows(
  'cell, tables',
  {
    tau1S: 25,
    overSoc: [
      { soc: 0, r0Ohm: 0.06, r1Ohm: 0.05, r2Ohm: 0.03 },
      { soc: 0.35, r0Ohm: 0.03, r1Ohm: 0.012, r2Ohm: 0.02 },
      { soc: 1, r0Ohm: 0.025, r1Ohm: 0.02, r2Ohm: 0.012 },
    ],
    overTemperature: [
      { cellC: -10, factor: 2.2 },
      { cellC: 10, factor: 1.4 },
      { cellC: 25, factor: 1 },
      { cellC: 45, factor: 0.8 },
    ],
    hysteresis: {
      turnsOverShare: 0.05,
      over: [
        { soc: 0, v: 0.05 },
        { soc: 0.4, v: 0.012 },
        { soc: 1, v: 0.004 },
      ],
    },
  },
  ['soc', 'pair1V', 'pair2V', 'hysteresisV', 'cellC', 'heatJ'],
);

describe('cable', () => {
  const CABLE_STEP_S = 0.1;
  const AMBIENT_C = 30;
  const LOADS = [
    [300, 1500],
    [0, 600],
    [250, 1500],
  ] as const;
  const rig = rigOf('depot-cable');
  const { cable, contact } = rig.connection;
  const ours = () => {
    const simulator = new Cable(rig, AMBIENT_C);
    for (const [amps, forS] of LOADS)
      for (let k = 0; k < Math.round(forS / CABLE_STEP_S); k++) simulator.warm(CABLE_STEP_S, amps * amps);
    return simulator;
  };
  /** 0.206 Ω/km at 20 °C is 95 mm² of class 5 (IEC 60228). */
  const theirs = () => {
    const solver = new Solver(2);
    solver.relativeTolerance = 1e-10;
    solver.absoluteTolerance = 1e-10;
    let state = [AMBIENT_C, AMBIENT_C];
    let fromS = 0;
    for (const [amps, forS] of LOADS) {
      const slope = (_t: number, y: number[]): number[] => {
        const [coreC, contactC] = y as [number, number];
        const loopOhm = 2 * 0.206e-3 * cable.lengthM * (1 + 0.00393 * (coreC - 20));
        const coreK = amps * amps * loopOhm * cable.thermalResistanceKPerW;
        const contactK = amps * amps * contact.resistanceOhm * contact.thermalResistanceKPerW;
        return [
          (AMBIENT_C + coreK - coreC) / cable.thermalTimeConstantS,
          (AMBIENT_C + contactK - contactC) / contact.thermalTimeConstantS,
        ];
      };
      state = solver.solve(slope, fromS, state, fromS + forS).y;
      fromS += forS;
    }
    return state as [number, number];
  };
  const row = (quantity: string, value: () => number, expected: () => number): void =>
    reference({
      quantity,
      unit: '°C',
      ours: value,
      reference: expected,
      tolerance: { share: 0.001 },
      source: SOURCE,
      trust: 'computed',
    });
  row(
    'cable: conductor after an hour of loads',
    () => ours().conductorC,
    () => theirs()[0],
  );
  row(
    'cable: contact after an hour of loads',
    () => ours().contactC.p,
    () => theirs()[1],
  );
});
