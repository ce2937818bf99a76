/**
 * How far a plan may be off when the train is not quite the one it reckons with: cells whose resistance lies 10 % to
 * either side, or that arrive 5 K warmer or colder. The plan is run at the corners; what lies between lies between.
 */
import type { Rig } from '../rig/schema.js';
import { batteryRafts } from '../rig/volts.js';
import { runStop, type StopAsk, type StopRun } from './stop-run.js';

export const RESISTANCE_SHARE = 0.1;
export const TEMPERATURE_K = 5;

export interface Between {
  readonly low: number;
  readonly high: number;
}

export interface Margins {
  readonly energyKwh: Between;
  readonly socEnd: Between;
  readonly durationS: Between;
  readonly cellC: Between;
  readonly cableC: Between;
  readonly contactC: Between;
}

/**
 * A simulated session and its plan agree within these when both reckon with the same train (tests/sim/plan/stop.test.ts):
 * they are part of any margin.
 */
export const MODEL_ENERGY_SHARE = 0.01;
export const MODEL_K = 1;
/** A raft's state of charge as reported may lie this far from the true one; the mean of several lies nearer. */
const SOC_READING = 0.002;
/** By which the hottest cell of a train may be warmer or colder than the plan expects of its rafts. */
const RAFTS_DIFFER_K = 0.4;

/** What the reading by which a charge ends may be off, as energy, kWh. */
export function readingKwh(rig: Rig, planned: StopRun, ask: Pick<StopAsk, 'socTo' | 'start'>): number {
  if (planned.endReason !== 'target' || Number.isNaN(ask.socTo)) return 0;
  const kwhPerSoc = planned.energyKwh / Math.max(1e-9, planned.socEnd - ask.start.soc);
  return (SOC_READING / Math.sqrt(batteryRafts(rig))) * kwhPerSoc;
}

/** Every resistance of the cells multiplied; at 25 °C and at every state of charge alike. */
export function withResistance(rig: Rig, factor: number): Rig {
  const { raft } = rig.battery;
  const { cell } = raft;
  const overSoc = cell.overSoc?.map((p) => ({
    soc: p.soc,
    ...{ r0Ohm: p.r0Ohm * factor, r1Ohm: p.r1Ohm * factor, r2Ohm: p.r2Ohm * factor },
  }));
  const scaled = {
    ...cell,
    ...{ r0Ohm: cell.r0Ohm * factor, r1Ohm: cell.r1Ohm * factor, r2Ohm: cell.r2Ohm * factor },
    ...(overSoc === undefined ? {} : { overSoc }),
  };
  return { ...rig, battery: { ...rig.battery, raft: { ...raft, cell: scaled } } };
}

/** @param planned the run in the middle */
export function marginsOf(rig: Rig, ask: StopAsk, planned: StopRun): Margins {
  const runs = [planned];
  for (const factor of [1 - RESISTANCE_SHARE, 1 + RESISTANCE_SHARE])
    for (const warmerK of [-1, 0, 1].map((sign) => sign * (TEMPERATURE_K + RAFTS_DIFFER_K))) {
      const start = { ...ask.start, cellC: ask.start.cellC + warmerK };
      runs.push(runStop(withResistance(rig, factor), { ...ask, start, keeps: false }));
    }
  const between = (of: (run: StopRun) => number, share: number, more: number): Between => {
    const all = runs.map(of);
    const low = Math.min(...all);
    const high = Math.max(...all);
    return { low: low * (1 - share) - more, high: high * (1 + share) + more };
  };
  const energyKwh = between((r) => r.energyKwh, MODEL_ENERGY_SHARE, readingKwh(rig, planned, ask));
  // What the energy may be off shows in the state of charge, and in the time that is needed for it.
  const risePerKwh = (planned.socEnd - ask.start.soc) / Math.max(1e-9, planned.energyKwh);
  return {
    energyKwh,
    socEnd: between((r) => r.socEnd, 0, MODEL_ENERGY_SHARE * planned.energyKwh * risePerKwh + SOC_READING),
    durationS: between((r) => r.durationS, MODEL_ENERGY_SHARE, 2 * (ask.stepS ?? 1)),
    cellC: between((r) => r.end.cellC, 0, MODEL_K),
    cableC: between((r) => r.end.cableC, 0, MODEL_K),
    contactC: between((r) => r.end.contactC, 0, MODEL_K),
  };
}
