/**
 * Our simulated cell on the synthetic LFP data set, whose parameters are known exactly (tests/data, SOURCE.md): driven
 * by its current it must show its volts within 1 mV in every row.
 */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { describe } from 'vitest';
import { Cell, type CellFigures } from '../../simulators/cell.js';
import { numbersOf, readRecording } from '../../src/measure/csv.js';
import { rigOf } from '../sim/fixture.js';
import { reference } from './reference.js';

const FOLDER = path.resolve(import.meta.dirname, '../data/lfp-synthetic-30Ah');
const SOURCE = 'synthetic data, tests/data/lfp-synthetic-30Ah, exact parameters';

interface Element {
  readonly updatable: readonly string[];
  readonly base_values: readonly (readonly number[])[];
  readonly soc_pinpoints: readonly number[];
}
interface State {
  readonly q_t: Element;
  readonly r0: Element;
  readonly ocv: { readonly ocv_ref: Element };
  readonly rc_elements: readonly [{ readonly r: Element; readonly c: Element }];
  readonly h0: Element & { readonly gamma: readonly (readonly number[])[] };
}
const one = (element: { readonly base_values: readonly (readonly number[])[] }): number =>
  element.base_values[0]![0]!;
const points = ({ soc_pinpoints, base_values }: Element) =>
  soc_pinpoints.map((soc, k) => ({ soc, v: base_values[0]![k]! }));

/** The set's parameters in the words of a rig. */
function figuresOf(state: State): CellFigures {
  const [pair] = state.rc_elements;
  return {
    ...rigOf('twenty-modules').battery.raft.cell,
    ocv: points(state.ocv.ocv_ref),
    capacityAh: one(state.q_t),
    r0Ohm: one(state.r0),
    r1Ohm: one(pair.r),
    tau1S: one(pair.r) * one(pair.c),
    r2Ohm: 0,
    hysteresis: { turnsOverShare: 1 / state.h0.gamma[0]![0]!, over: points(state.h0) },
    heatCapacityJPerK: 1e12,
  };
}

/** Largest difference of volts, and of charge, over all rows. */
function apart(file: string, figures: CellFigures): { readonly volts: number; readonly soc: number } {
  const columns = ['time_s', 'current_a', 'voltage_v', 'soc', 'hysteresis_v', 'i_rc1_a'];
  const recording = readRecording(
    readFileSync(path.join(FOLDER, file), 'utf8'),
    file,
    columns.map((name) => ({ name, kind: 'number' })),
    { repeatedTimes: true },
  );
  const [timeS, amps, volts, soc, hysteresisV, pairA] = columns.map((name) => numbersOf(recording, name)) as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  const cell = new Cell(figures, { soc: soc[0]!, cellC: 25, ambientC: 25 });
  cell.hysteresisV = hysteresisV[0]!;
  cell.pair1V = pairA[0]! * figures.r1Ohm;
  const most = { volts: 0, soc: 0 };
  for (let k = 0; k < timeS.length; k++) {
    const stepS = k === 0 ? 0 : timeS[k]! - timeS[k - 1]!;
    if (stepS > 0) cell.step(stepS, (amps[k]! + amps[k - 1]!) / 2);
    most.volts = Math.max(most.volts, Math.abs(cell.emfV() + amps[k]! * cell.r0Ohm() - volts[k]!));
    most.soc = Math.max(most.soc, Math.abs(cell.soc - soc[k]!));
  }
  return most;
}

const parameters = JSON.parse(readFileSync(path.join(FOLDER, 'parameters.json'), 'utf8')) as {
  readonly capacity_check: State;
  readonly full_hppc: State;
};

for (const [title, file, state] of [
  ['LFP at C/20 and held', 'capacity_check_C20_discharge_cccv_charge.csv', parameters.capacity_check],
  ['LFP in 2C pulses', 'hppc_2C_pulses_soc100_to_50.csv', parameters.full_hppc],
] as const) {
  describe(title, () => {
    reference({
      quantity: `${title}: volts, most`,
      unit: 'V',
      ours: () => apart(file, figuresOf(state)).volts,
      reference: () => 0,
      tolerance: { absolute: 0.001 },
      source: SOURCE,
      trust: 'computed',
    });
    reference({
      quantity: `${title}: state of charge, most`,
      unit: '',
      ours: () => apart(file, figuresOf(state)).soc,
      reference: () => 0,
      tolerance: { absolute: 1e-4 },
      source: SOURCE,
      trust: 'computed',
    });
  });
}
