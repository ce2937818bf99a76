/**
 * Measured charges: cells fitted to one recording foretell another, never the one fitted. Data and licences:
 * tests/data, each folder with its SOURCE.md. Tolerances: volts 0.5 % r.m.s. of 4.2 V while charging above 15 %
 * state of charge, constant-current time 4 %, charge 2 %.
 */
import path from 'node:path';
import { describe } from 'vitest';
import { parse } from 'yaml';
import { Cell, type CellFigures } from '../../simulators/cell.js';
import { loadCharge, loadOcv } from '../../src/cli/fit-files.js';
import { type ChargeRecord, fromA, largestA } from '../../src/measure/charge-record.js';
import { raftBlock } from '../../src/measure/raft-block.js';
import { type FitOptions, fitRaft, type RaftFit } from '../../src/measure/raft-fit.js';
import { type Prediction, type PredictOptions, predictRaft } from '../../src/measure/raft-predict.js';
import { CC_TIME_SHARE, CHARGE_RMS_V, CHARGE_SHARE } from '../../src/measure/raft-verdict.js';
import { reference } from './reference.js';

const DATA = path.resolve(import.meta.dirname, '../data');
const NMC = path.join(DATA, 'cylindrical-nmc-5Ah');
const TRACTION = path.join(DATA, 'traction-cell-33Ah');
const ONE = { series: 1, parallel: 1 } as const;

interface Recording {
  readonly file: string;
  readonly title: string;
}
/** The rate in a file's name is that of its discharge; what is foretold is its charge. */
const NMC_25 = {
  file: path.join(NMC, 'ratetest_T25_0p5C.csv'),
  title: 'NMC 5 Ah, 25 °C, 1.67 A',
};
const NMC_45_SLOW = { file: path.join(NMC, 'ratetest_T45_0p1C.csv'), title: 'NMC 5 Ah, 45 °C, 0.5 A' };
const NMC_45 = { file: path.join(NMC, 'ratetest_T45_0p5C.csv'), title: 'NMC 5 Ah, 45 °C, 2.5 A' };
const TRACTION_HALF = {
  file: path.join(TRACTION, 'discharge1C_rest_chargeC2_rest_25C.csv'),
  title: 'traction 33 Ah, 25 °C, 15.3 A',
};
const TRACTION_THIRD = {
  file: path.join(TRACTION, 'charge_10A_cccv_rest_25C.csv'),
  title: 'traction 33 Ah, 25 °C, 10 A',
};

const NMC_OCV: FitOptions = { ocv: loadOcv(path.join(NMC, 'ocv_25C.csv')) };
const NMC_SOURCE = 'open data, tests/data/cylindrical-nmc-5Ah';
const TRACTION_SOURCE = 'open data, tests/data/traction-cell-33Ah';

function foretells(
  fitted: Recording,
  options: FitOptions,
  others: readonly (Recording & PredictOptions)[],
  source: string,
): void {
  describe(`fitted to ${fitted.title}`, () => {
    let fit: RaftFit | null = null;
    for (const { file, title, ...predictOptions } of others) {
      let held: Prediction | null = null;
      const prediction = (): Prediction => {
        fit ??= fitRaft(loadCharge(fitted.file, ONE), options);
        held ??= predictRaft(fit, loadCharge(file, ONE), predictOptions);
        return held;
      };
      const measured = () => {
        const stretch = prediction().measured;
        if (stretch === null) throw new Error(`${file} holds no charge`);
        return stretch;
      };
      const what = `${title}, foretold from ${fitted.title}`;
      const common = { source, trust: 'published' } as const;
      reference({
        ...common,
        quantity: `${what}: volts, r.m.s.`,
        unit: 'V',
        ours: () => prediction().residuals.chargeRmsV,
        reference: () => 0,
        tolerance: { absolute: CHARGE_RMS_V },
        timeoutMs: 60_000,
      });
      reference({
        ...common,
        quantity: `${what}: constant current for`,
        unit: 's',
        ours: () => prediction().ccTimeS,
        reference: () => measured().ccTimeS,
        tolerance: { share: CC_TIME_SHARE },
        timeoutMs: 60_000,
      });
      reference({
        ...common,
        quantity: `${what}: charge`,
        unit: 'Ah',
        ours: () => prediction().chargeAh,
        reference: () => measured().chargeAh,
        tolerance: { share: CHARGE_SHARE },
        timeoutMs: 60_000,
      });
    }
  });
}

foretells(NMC_45_SLOW, NMC_OCV, [NMC_45], NMC_SOURCE);
// At 45 °C and five times the current, and at 25 °C: the factor of the temperature is not fitted.
foretells(NMC_45, NMC_OCV, [NMC_45_SLOW, NMC_25], NMC_SOURCE);
foretells(NMC_25, NMC_OCV, [NMC_45], NMC_SOURCE);
foretells(TRACTION_HALF, {}, [TRACTION_THIRD], TRACTION_SOURCE);
foretells(TRACTION_THIRD, {}, [TRACTION_HALF], TRACTION_SOURCE);

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
