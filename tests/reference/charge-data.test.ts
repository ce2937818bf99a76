/**
 * Measured charges: cells fitted to one recording, or to several at several temperatures, foretell another, never one
 * that was fitted. Data and licences: tests/data, each folder with its SOURCE.md. Tolerances: volts 0.5 % r.m.s. of
 * 4.2 V while charging above 15 % state of charge, constant-current time 4 %, charge 2 %.
 *
 * Not here because it is not met: the NMC cell fitted at 25 °C alone foretells the charge at 10 °C 2.01 % too large;
 * the traction cell fitted at 10 °C and to the slow charge at 25 °C, both without a
 * discharge or a rest at the beginning, foretells the fast charge with 25 mV r.m.s.; and one of its recordings alone
 * does not foretell the other temperature.
 */
import path from 'node:path';
import { describe } from 'vitest';
import { parse } from 'yaml';
import { Cell, type CellFigures } from '../../simulators/cell.js';
import { loadCharge, loadOcv } from '../../src/cli/fit-files.js';
import { type ChargeRecord, fromA, largestA } from '../../src/measure/charge-record.js';
import { raftBlock } from '../../src/measure/raft-block.js';
import { type CellOptions, fitRaft, fitRaftTogether, type RaftFit } from '../../src/measure/raft-fit.js';
import { type Prediction, predictRaft } from '../../src/measure/raft-predict.js';
import { CC_TIME_SHARE, CHARGE_RMS_V, CHARGE_SHARE } from '../../src/measure/raft-verdict.js';
import { reference } from './reference.js';

const DATA = path.resolve(import.meta.dirname, '../data');
const NMC = path.join(DATA, 'cylindrical-nmc-5Ah');
const TRACTION = path.join(DATA, 'traction-cell-33Ah');
const ONE = { series: 1, parallel: 1 } as const;

interface Recording {
  readonly file: string;
  readonly title: string;
  /** Of the chamber, where no temperature was logged. */
  readonly cellC?: number;
}
/** The rate in a file's name is that of its discharge; what is foretold is its charge. */
const NMC_10 = { file: path.join(NMC, 'ratetest_T10_0p1C.csv'), title: 'NMC 5 Ah, 10 °C, 1.67 A' };
const NMC_25 = { file: path.join(NMC, 'ratetest_T25_0p5C.csv'), title: 'NMC 5 Ah, 25 °C, 1.67 A' };
const NMC_45_SLOW = { file: path.join(NMC, 'ratetest_T45_0p1C.csv'), title: 'NMC 5 Ah, 45 °C, 0.5 A' };
const NMC_45 = { file: path.join(NMC, 'ratetest_T45_0p5C.csv'), title: 'NMC 5 Ah, 45 °C, 2.5 A' };
const TRACTION_HALF = {
  file: path.join(TRACTION, 'discharge1C_rest_chargeC2_rest_25C.csv'),
  title: 'traction 33 Ah, 25 °C, 15.3 A',
};
const TRACTION_THIRD = {
  file: path.join(TRACTION, 'charge_10A_cccv_rest_25C.csv'),
  title: 'traction 33 Ah, 25 °C, 10 A',
  cellC: 25,
};
const TRACTION_10 = {
  file: path.join(TRACTION, 'charge_10A_cccv_rest_10C.csv'),
  title: 'traction 33 Ah, 10 °C, 10 A',
  cellC: 10,
};

const NMC_OCV: CellOptions = { ocv: loadOcv(path.join(NMC, 'ocv_25C.csv')) };
const NMC_SOURCE = 'open data, tests/data/cylindrical-nmc-5Ah';
const TRACTION_SOURCE = 'open data, tests/data/traction-cell-33Ah';

const cellOf = ({ cellC }: Recording) => (cellC === undefined ? {} : { cellC });
const fitOf = (fitted: readonly Recording[], options: CellOptions): RaftFit =>
  fitRaftTogether(
    fitted.map((each) => ({ record: loadCharge(each.file, ONE), ...cellOf(each) })),
    options,
  );

function foretells(
  fitted: readonly Recording[],
  options: CellOptions,
  others: readonly Recording[],
  source: string,
): void {
  const from = fitted.map((each) => each.title).join(' and ');
  describe(`fitted to ${from}`, () => {
    let fit: RaftFit | null = null;
    for (const other of others) {
      let held: Prediction | null = null;
      const prediction = (): Prediction => {
        fit ??= fitOf(fitted, options);
        held ??= predictRaft(fit, loadCharge(other.file, ONE), cellOf(other));
        return held;
      };
      const both = () => {
        const { measured, own } = prediction();
        if (measured === null || own === null) throw new Error(`${other.file} holds no charge`);
        return { measured, own };
      };
      const what = `${other.title}, foretold from ${from}`;
      const common = { source, trust: 'published', timeoutMs: 60_000 } as const;
      reference({
        ...common,
        quantity: `${what}: volts, r.m.s.`,
        unit: 'V',
        ours: () => prediction().residuals.chargeRmsV,
        reference: () => 0,
        tolerance: { absolute: CHARGE_RMS_V },
      });
      reference({
        ...common,
        quantity: `${what}: constant current for`,
        unit: 's',
        ours: () => both().own.ccTimeS,
        reference: () => both().measured.ccTimeS,
        tolerance: { share: CC_TIME_SHARE },
      });
      reference({
        ...common,
        quantity: `${what}: charge`,
        unit: 'Ah',
        ours: () => both().own.chargeAh,
        reference: () => both().measured.chargeAh,
        tolerance: { share: CHARGE_SHARE },
      });
    }
  });
}

// One temperature fitted: how it goes on to others is not fitted but typical, from upstream's pulses of such a cell.
foretells([NMC_45_SLOW], NMC_OCV, [NMC_45, NMC_25, NMC_10], NMC_SOURCE);
foretells([NMC_45], NMC_OCV, [NMC_45_SLOW, NMC_25, NMC_10], NMC_SOURCE);
foretells([NMC_25], NMC_OCV, [NMC_45, NMC_45_SLOW], NMC_SOURCE);
foretells([NMC_10], NMC_OCV, [NMC_25, NMC_45, NMC_45_SLOW], NMC_SOURCE);
foretells([TRACTION_HALF], {}, [TRACTION_THIRD], TRACTION_SOURCE);
foretells([TRACTION_THIRD], {}, [TRACTION_HALF], TRACTION_SOURCE);
// Two temperatures fitted, a third foretold: each of the three in turn, both rates at 45 °C.
foretells([NMC_10, NMC_25], NMC_OCV, [NMC_45, NMC_45_SLOW], NMC_SOURCE);
foretells([NMC_10, NMC_45], NMC_OCV, [NMC_25], NMC_SOURCE);
foretells([NMC_10, NMC_45_SLOW], NMC_OCV, [NMC_25], NMC_SOURCE);
foretells([NMC_25, NMC_45], NMC_OCV, [NMC_10], NMC_SOURCE);
foretells([NMC_25, NMC_45_SLOW], NMC_OCV, [NMC_10], NMC_SOURCE);
// Two temperatures, and another rate at one of them; without a table of open-circuit volts.
foretells([TRACTION_10, TRACTION_HALF], {}, [TRACTION_THIRD], TRACTION_SOURCE);

/** The block that goes into a rig, driven through the simulator: what was fitted must not be lost on the way. */
describe('the fitted block in the simulator', () => {
  const OPTIONS = {
    recording: 'a recording',
    chemistry: 'of the test',
    extendsFile: null,
    name: 'fitted',
    heatCapacityJPerK: 1e12,
    thermalResistanceKPerW: 1,
  };
  for (const [fitted, options, other, source] of [
    [NMC_45, NMC_OCV, NMC_45_SLOW, NMC_SOURCE],
    [TRACTION_HALF, {}, TRACTION_THIRD, TRACTION_SOURCE],
  ] as const) {
    reference({
      quantity: `${other.title}, simulated from ${fitted.title}: volts, r.m.s.`,
      unit: 'V',
      ours: () => {
        const fit = fitRaft(loadCharge(fitted.file, ONE), options);
        const block = parse(raftBlock(fit, OPTIONS)) as { battery: { raft: { cell: CellFigures } } };
        const record = loadCharge(other.file, ONE);
        const soc = predictRaft(fit, record, {}).socStart;
        return simulatedRmsV(new Cell(block.battery.raft.cell, { soc, cellC: 25, ambientC: 25 }), record);
      },
      reference: () => 0,
      tolerance: { absolute: CHARGE_RMS_V },
      source,
      trust: 'published',
      timeoutMs: 60_000,
    });
  }
});

/** Of the rows that charge above 15 %. */
function simulatedRmsV(cell: Cell, record: ChargeRecord): number {
  const { timeS, currentA, voltageV, cellC } = record;
  const largest = largestA(record);
  let [sum, count] = [0, 0];
  for (let k = 0; k < timeS.length; k++) {
    const amps = currentA[k]!;
    cell.setC(cellC?.[k] ?? 25);
    const stepS = k === 0 ? 0 : timeS[k]! - timeS[k - 1]!;
    if (stepS > 0) cell.step(stepS, (fromA(record, k, largest) + amps) / 2);
    if (!(amps > 0 && cell.soc > 0.15)) continue;
    sum += (cell.emfV() + amps * cell.r0Ohm() - voltageV[k]!) ** 2;
    count += 1;
  }
  return Math.sqrt(sum / count);
}
