/** Volts and ohms of a pack that follow from the rig alone. */
import type { Rig } from './schema.js';

type Cell = Rig['battery']['raft']['cell'];

/** Open-circuit volts of one cell by its table, linear between the points; NaN outside it. */
export function openCircuitV(cell: Cell, soc: number): number {
  const points = cell.ocv;
  for (let i = 1; i < points.length; i++) {
    const below = points[i - 1]!;
    const above = points[i]!;
    if (soc >= below.soc && soc <= above.soc) {
      return below.v + ((above.v - below.v) * (soc - below.soc)) / (above.soc - below.soc);
    }
  }
  return Number.NaN;
}

/** Volts of a whole pack at a cell voltage. */
export const packV = (rig: Rig, cellV: number): number => rig.battery.raft.seriesCells * cellV;

/** Battery rafts; a generator raft takes no charge. */
export const batteryRafts = (rig: Rig): number =>
  rig.battery.rafts.filter((r) => r.kind === 'battery').length;

/** Resistance of one raft at 25 °C once its branches have settled, Ω. */
export function raftOhm(rig: Rig): number {
  const { cell, seriesCells, parallelCells, barsOhm } = rig.battery.raft;
  return ((cell.r0Ohm + cell.r1Ohm + cell.r2Ohm) * seriesCells) / parallelCells + barsOhm;
}

/** What a step of current meets at once in one raft: no branch has had time, Ω. */
export function raftStepOhm(rig: Rig): number {
  const { cell, seriesCells, parallelCells, barsOhm } = rig.battery.raft;
  return (cell.r0Ohm * seriesCells) / parallelCells + barsOhm;
}
