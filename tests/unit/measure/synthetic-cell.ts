/**
 * A cell with one R-C pair and exactly known parameters, logged as a cycler does: a row every so many seconds and one
 * right before and after each step of the current.
 */
import type { ChargeRecord } from '../../../src/measure/charge-record.js';

export interface SyntheticCell {
  readonly capacityAh: number;
  readonly r0Ohm: number;
  readonly r1Ohm: number;
  readonly tau1S: number;
  /** Open-circuit volts: lowV + slopeV · soc. */
  readonly lowV: number;
  readonly slopeV: number;
}

export const PLAIN: SyntheticCell = {
  capacityAh: 10,
  r0Ohm: 0.02,
  r1Ohm: 0.01,
  tau1S: 30,
  lowV: 3.2,
  slopeV: 0.8,
};

/** A current and how long it flows, s. */
export type Profile = readonly (readonly [currentA: number, forS: number])[];

export const openV = (cell: SyntheticCell, soc: number): number => cell.lowV + cell.slopeV * soc;

/** @param noiseV added to each row's volts */
export function recordOf(
  cell: SyntheticCell,
  socStart: number,
  profile: Profile,
  everyS = 20,
  noiseV: () => number = () => 0,
): ChargeRecord {
  const timeS: number[] = [];
  const currentA: number[] = [];
  const voltageV: number[] = [];
  let now = 0;
  let soc = socStart;
  let pairV = 0;
  const row = (amps: number): void => {
    timeS.push(now);
    currentA.push(amps);
    voltageV.push(openV(cell, soc) + pairV + amps * cell.r0Ohm + noiseV());
  };
  for (const [amps, forS] of profile) {
    row(amps);
    for (let gone = 0; gone < forS; ) {
      const stepS = Math.min(everyS, forS - gone);
      gone += stepS;
      now += stepS;
      soc += (amps * stepS) / 3600 / cell.capacityAh;
      pairV += (amps * cell.r1Ohm - pairV) * -Math.expm1(-stepS / cell.tau1S);
      row(amps);
    }
  }
  return {
    timeS: Float64Array.from(timeS),
    currentA: Float64Array.from(currentA),
    voltageV: Float64Array.from(voltageV),
  };
}

/** As lines of a file. */
export function linesOf({ timeS, currentA, voltageV }: ChargeRecord): string[] {
  const rows = Array.from(timeS, (t, k) => `${t},${currentA[k]},${voltageV[k]!.toFixed(5)},25`);
  return ['time_s,current_a,voltage_v,cell_degc', ...rows];
}

/** Constant current to a voltage, held there until the current has fallen; and what came of it. */
export function heldAt(cell: SyntheticCell, socStart: number, amps: number, limitV: number, endA: number) {
  const STEP_S = 20;
  const profile: (readonly [number, number])[] = [[0, 100]];
  let soc = socStart;
  let pairV = 0;
  let ccTimeS = 0;
  let chargeAh = 0;
  for (let now = amps; now > endA; ) {
    const room = limitV - openV(cell, soc) - pairV;
    now = Math.min(amps, room / cell.r0Ohm);
    if (now === amps) ccTimeS += STEP_S;
    soc += (now * STEP_S) / 3600 / cell.capacityAh;
    pairV += (now * cell.r1Ohm - pairV) * -Math.expm1(-STEP_S / cell.tau1S);
    chargeAh += (now * STEP_S) / 3600;
    profile.push([now, STEP_S]);
  }
  return { record: recordOf(cell, socStart, profile, STEP_S), ccTimeS, chargeAh };
}
