/** How far a charge goes: on paper, and between the floor and the headroom that regeneration needs. */
import type { Rig } from '../rig/schema.js';

const STEPS = 100;

export const rangeKmOf = (energyKwh: number, kwhPerKm: number): number => energyKwh / kwhPerKm;

/** Energy of all battery rafts between two states of charge, by their open-circuit volts. */
export function energyBetweenKwh({ battery }: Rig, fromSoc: number, toSoc: number): number {
  const { cell, seriesCells, parallelCells } = battery.raft;
  const count = battery.rafts.filter(({ kind }) => kind === 'battery').length;
  let volts = 0;
  for (let i = 0; i < STEPS; i++)
    volts += ocvAt(cell.ocv, fromSoc + ((toSoc - fromSoc) * (i + 0.5)) / STEPS) / STEPS;
  return ((toSoc - fromSoc) * cell.capacityAh * parallelCells * seriesCells * count * volts) / 1000;
}

function ocvAt(table: readonly { readonly soc: number; readonly v: number }[], soc: number): number {
  const k = Math.max(
    1,
    table.findIndex((p) => p.soc >= soc),
  );
  const [low, high] = [table[k - 1]!, table[k]!];
  return low.v + ((high.v - low.v) * (soc - low.soc)) / (high.soc - low.soc);
}

/** Cells that have lost capacity with age; their resistance is left as it is. */
export function aged(rig: Rig, share: number): Rig {
  const { raft } = rig.battery;
  const cell = { ...raft.cell, capacityAh: raft.cell.capacityAh * share };
  return { ...rig, battery: { ...rig.battery, raft: { ...raft, cell } } };
}

export interface Range {
  readonly kwhPerKm: number;
  /** Of new cells, from empty to full. */
  readonly nameplateKwh: number;
  readonly theoreticalKm: number;
  /** Between floor and ceiling, with what age has left. */
  readonly usableKwh: number;
  readonly usableKm: number;
  readonly belowFloorKwh: number;
  readonly headroomKwh: number;
  readonly lostToAgeKwh: number;
}

export function rangeOf(rig: Rig, ageing: number, kwhPerKm: number): Range {
  const { floorSoc, ceilingSoc } = rig.battery;
  const old = aged(rig, ageing);
  const nameplateKwh = energyBetweenKwh(rig, 0, 1);
  const usableKwh = energyBetweenKwh(old, floorSoc, ceilingSoc);
  return {
    ...{ kwhPerKm, nameplateKwh, usableKwh },
    theoreticalKm: rangeKmOf(nameplateKwh, kwhPerKm),
    usableKm: rangeKmOf(usableKwh, kwhPerKm),
    belowFloorKwh: energyBetweenKwh(old, 0, floorSoc),
    headroomKwh: energyBetweenKwh(old, ceilingSoc, 1),
    lostToAgeKwh: nameplateKwh - energyBetweenKwh(old, 0, 1),
  };
}
