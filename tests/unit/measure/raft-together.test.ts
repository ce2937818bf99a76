/** Recordings of one cell at several temperatures, fitted together; and charges foretold that do not end. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { fitRaft, fitRaftTogether } from '../../../src/measure/raft-fit.js';
import { activationEnergies, raftPoint, temperatureFactor } from '../../../src/measure/raft-parameters.js';
import { predictRaft } from '../../../src/measure/raft-predict.js';
import { judgeRaft } from '../../../src/measure/raft-verdict.js';
import { heldAt, openV, PLAIN, type Profile, recordOf, type SyntheticCell } from './synthetic-cell.js';

/** A resistance of which three tenths double with every so many kelvin of cold. */
const coldened = (ohm: number, cellC: number, doublingK: number): number =>
  ohm * (0.7 + 0.3 * 2 ** ((25 - cellC) / doublingK));
const cellAt = (cellC: number): SyntheticCell => ({
  ...PLAIN,
  r0Ohm: coldened(0.02, cellC, 12),
  r1Ohm: coldened(0.01, cellC, 20),
});
const CYCLE: Profile = [
  [0, 600],
  [-5, 6000],
  [0, 3600],
  [3.3, 3000],
  [0, 1800],
  [5, 3600],
  [0, 3600],
];
const TABLE = Array.from({ length: 51 }, (_, k) => ({ soc: k / 50, v: openV(PLAIN, k / 50) }));
const random = new SeededRandom(11);
const at = (cellC: number, socStart = 0.98) => ({
  record: recordOf(cellAt(cellC), socStart, CYCLE, 60, () => 0.0003 * random.gaussian()),
  cellC,
});

describe('recordings at several temperatures', () => {
  const fit = fitRaftTogether([at(10), at(30), at(45, 0.95)], { ocv: TABLE });

  it('tell how the resistances depend on it, within what is stated', () => {
    expect(fit.activationFitted).toBe(true);
    const { r0, r1 } = activationEnergies(fit);
    // Doubling every K kelvin about 25 °C is an energy of R·T²·ln 2 / K: 42.7 and 25.6 kJ/mol. The law is another
    // one than Arrhenius's, so over 35 K it is met to a tenth at best.
    expect(Math.abs(r0.value - 42_700)).toBeLessThan(r0.uncertainty + 4_270);
    expect(Math.abs(r1.value - 25_600)).toBeLessThan(r1.uncertainty + 2_560);
    // Much surer than before: 29 kJ/mol.
    expect(r0.uncertainty).toBeLessThan(12_000);
    const found = raftPoint(fit, 0.5).r0Ohm;
    expect(Math.abs(found.value - 0.02)).toBeLessThan(found.uncertainty);
    expect(temperatureFactor(fit, 25)).toBe(1);
    expect(temperatureFactor(fit, 10)).toBeGreaterThan(1.2);
    expect(fit.recordings.map((r) => r.cellC)).toEqual([10, 30, 45]);
    expect(fit.recordings[2]!.socStart).toBeCloseTo(0.95, 1);
  });

  it('foretell a colder one, which one recording alone misses', () => {
    const cold = at(0);
    const miss = (from: typeof fit): number =>
      predictRaft(from, cold.record, { cellC: 0, socStart: 0.98 }).residuals.rmsV;
    expect(miss(fit)).toBeLessThan(0.008);
    expect(miss(fit)).toBeLessThan(0.6 * miss(fitRaft(at(45).record, { ocv: TABLE, cellC: 45 })));
  });

  it('at one temperature leave the energies as believed', () => {
    const one = fitRaftTogether([at(25), at(27)], { ocv: TABLE });
    expect(one.activationFitted).toBe(false);
    expect(activationEnergies(one)).toEqual(activationEnergies(fitRaft(at(25).record, { ocv: TABLE })));
  });

  it('begin where they are told to, or where they show', () => {
    const found = fitRaftTogether([at(10), { ...at(45, 0.95), socStart: 0.95 }], { capacityAh: 10 });
    expect(found.recordings[1]!.socStart).toBeCloseTo(0.95, 1);
  });
});

describe('a charge foretold that does not end', () => {
  const fit = fitRaft(recordOf(PLAIN, 0.98, CYCLE, 60), { capacityAh: 10, socStart: 0.98 });
  const small: SyntheticCell = { ...PLAIN, capacityAh: 1 };

  it('says how much still flows where it ought to have ended', () => {
    const found = predictRaft(fit, heldAt(small, 0.85, 4, 3.9, 0.5).record, { socStart: 0.85 });
    expect(found.own).toMatchObject({ ends: false, chargeAh: Number.NaN });
    expect(found.own!.ccTimeS).toBeGreaterThanOrEqual(0);
    expect(found.own!.lastA).toBeGreaterThan(0.5);
    const { verdict, because } = judgeRaft(fit, found);
    expect(verdict).toBe('poor');
    expect(because).toMatch(
      /the charge foretold does not end: after \d+ s it still takes \d\.\d+ A, recorded down to \d\.\d+ A/,
    );
  });

  it('says that the voltage is not reached', () => {
    const found = predictRaft(fit, heldAt(small, 0.2, 4, 3.9, 0.5).record, { socStart: 0.2 });
    expect(found.own).toMatchObject({ ends: false, ccTimeS: Number.NaN, chargeAh: Number.NaN });
    expect(judgeRaft(fit, found).because).toMatch(
      /does not end: 3\.9\d\d V are not reached in \d+ s, recorded after/,
    );
  });
});
