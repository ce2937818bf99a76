/** Fits to cells whose parameters are known exactly, with noise and all. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { fitRaft } from '../../../src/measure/raft-fit.js';
import { raftPoint, timeConstants } from '../../../src/measure/raft-parameters.js';
import { predictRaft } from '../../../src/measure/raft-predict.js';
import { judgeRaft } from '../../../src/measure/raft-verdict.js';
import { heldAt, openV, PLAIN, type Profile, recordOf, type SyntheticCell } from './synthetic-cell.js';

/** Discharge from full, rest, charge in two rates, rests between: what a bench does in a day. */
const cycle = ({ capacityAh: q }: SyntheticCell): Profile => [
  [0, 600],
  [-q / 2, 6000],
  [0, 3600],
  [q / 3, 3000],
  [0, 1800],
  [q / 2, 3600],
  [0, 3600],
];
const tableOf = (cell: SyntheticCell) =>
  Array.from({ length: 51 }, (_, k) => ({ soc: k / 50, v: openV(cell, k / 50) }));

const plainFit = () => fitRaft(recordOf(PLAIN, 0.98, cycle(PLAIN), 60), { capacityAh: 10, socStart: 0.98 });

describe('a fit to a known cell', () => {
  it('finds resistances, capacity and start within what it states, in 19 of 20 figures', () => {
    const random = new SeededRandom(5);
    let inside = 0;
    let figures = 0;
    for (let round = 0; round < 6; round++) {
      const capacityAh = random.between(3, 200);
      const cell: SyntheticCell = {
        capacityAh,
        r0Ohm: random.between(0.05, 0.12) / capacityAh,
        r1Ohm: random.between(0.02, 0.05) / capacityAh,
        tau1S: random.between(15, 60),
        lowV: 3.2,
        slopeV: random.between(0.6, 1),
      };
      const record = recordOf(cell, 0.98, cycle(cell), 60, () => 0.0003 * random.gaussian());
      const fit = fitRaft(record, { ocv: tableOf(cell) });
      expect(fit.shape.capacityAh / capacityAh).toBeCloseTo(1, 2);
      expect(fit.recordings[0]?.socStart).toBeCloseTo(0.98, 2);
      expect(fit.fitRmsV).toBeLessThan(0.003);
      const at = raftPoint(fit, 0.5);
      expect(at.ocvV).toBeCloseTo(openV(cell, 0.5), 2);
      for (const [found, true_] of [
        [at.r0Ohm, cell.r0Ohm],
        [raftPoint(fit, 0.3).r0Ohm, cell.r0Ohm],
        [raftPoint(fit, 0.8).r0Ohm, cell.r0Ohm],
      ] as const) {
        figures += 1;
        if (Math.abs(found.value - true_) <= found.uncertainty) inside += 1;
      }
    }
    expect(figures).toBe(18);
    expect(inside).toBeGreaterThanOrEqual(17);
  });

  it('foretells volts, constant-current time and charge of another charge', () => {
    const fit = plainFit();
    const charge = heldAt(PLAIN, 0.15, 4, 3.9, 0.5);
    const found = predictRaft(fit, charge.record, { socStart: 0.15 });
    expect(found.residuals.rmsV).toBeLessThan(0.006);
    expect(found.measured?.ccTimeS).toBeCloseTo(charge.ccTimeS, -2);
    expect(found.own!.ccTimeS / charge.ccTimeS).toBeCloseTo(1, 1);
    expect(found.own!.chargeAh / charge.chargeAh).toBeCloseTo(1, 1);
    expect(judgeRaft(fit, found).verdict).toBe('good');
    // Left to itself it finds the start from the first row's volts.
    expect(predictRaft(fit, charge.record, {}).socStart).toBeCloseTo(0.15, 1);
  });

  it('says that a lone constant current tells no resistance', () => {
    const fit = fitRaft(recordOf(PLAIN, 0.1, [[4, 7000]]), { capacityAh: 10, socStart: 0.1 });
    expect(judgeRaft(fit, null).verdict).toBe('unclear');
    const { tau1S } = timeConstants(fit);
    expect(tau1S.uncertainty).toBeGreaterThan(tau1S.value / 2);
  });

  it('says that a fit which misses is poor', () => {
    const fit = plainFit();
    const other = recordOf({ ...PLAIN, lowV: 3.3 }, 0.2, [
      [0, 600],
      [4, 3000],
    ]);
    const judged = judgeRaft(fit, predictRaft(fit, other, { socStart: 0.2 }));
    expect(judged.verdict).toBe('poor');
    expect(judged.because).toMatch(/the prediction is \d+\.\d mV r\.m\.s\. off, 21\.0 mV permitted/);
  });
});
