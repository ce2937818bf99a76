/**
 * A train's battery along a route: the simulator's raft under the power of each piece, with what comes back from
 * braking as far as the rafts have room and permit the current. All rafts are alike, as in train-model.ts, so one of
 * them is reckoned for all.
 */
import type { Rig } from '../rig/schema.js';
import type { Route } from './route.js';
import type { Piece } from './speed-profile.js';
import { type StopStart, TrainModel } from './train-model.js';

/** What the train bus is asked for over a time. */
export interface Load {
  readonly seconds: number;
  readonly km: number;
  readonly section: number;
  readonly tractionKwh: number;
  readonly auxiliariesKwh: number;
  /** What braking could give back. */
  readonly returnKwh: number;
}

export interface DrivePoint {
  readonly km: number;
  readonly atS: number;
  readonly soc: number;
  /** From the rafts; below 0 into them. */
  readonly powerKw: number;
  readonly busV: number;
  readonly cellC: number;
}

export interface Drive {
  readonly points: readonly DrivePoint[];
  readonly socEnd: number;
  readonly cellC: number;
  readonly lowest: { readonly soc: number; readonly km: number; readonly section: number };
  readonly hottestC: number;
  /** Between bus and rafts, kWh: out of them, and back into them. */
  readonly drawnKwh: number;
  readonly chargedKwh: number;
  /** Of what braking could give back: used by the auxiliaries or stored, and given away. */
  readonly returnedKwh: number;
  readonly lostKwh: number;
  /** Of one raft, driving. */
  readonly peakRaftA: number;
  readonly lowestCellV: number;
  /** Where the rafts could give no more; null when they could all the way. */
  readonly emptyAtKm: number | null;
}

/** The route as loads of the bus. */
export function loadsOf({ train }: Route, pieces: readonly Piece[]): Load[] {
  const { tractionEfficiencyShare, regeneration, auxiliariesKw, maxTractionKw } = train;
  return pieces.map(({ seconds, km, section, tractionKwh, aboveCutOffKwh, measuredKwh }) => {
    const hours = seconds / 3600;
    if (measuredKwh !== null)
      return {
        ...{ seconds, km, section, auxiliariesKwh: 0 },
        ...{ tractionKwh: Math.max(0, measuredKwh), returnKwh: Math.max(0, -measuredKwh) },
      };
    return {
      ...{ seconds, km, section, auxiliariesKwh: auxiliariesKw * hours },
      tractionKwh: tractionKwh / tractionEfficiencyShare,
      returnKwh: Math.min(aboveCutOffKwh * regeneration.share, maxTractionKw * hours),
    };
  });
}

/** @param keepsEvery so many points are one; 0 keeps none */
export function drive(rig: Rig, loads: readonly Load[], start: StopStart, keepsEvery = 0): Drive {
  const model = new TrainModel(rig, start);
  const count = model.joined.length;
  const raft = model.rafts[model.joined[0]!]!;
  const points: DrivePoint[] = [];
  const lowest = { soc: raft.soc, km: 0, section: 0 };
  const sum = { drawnKwh: 0, chargedKwh: 0, returnedKwh: 0, lostKwh: 0 };
  let [atS, peakRaftA, hottestC] = [0, 0, raft.cellMaxC()];
  let lowestCellV = raft.cellMinV();
  let emptyAtKm: number | null = null;
  const keep = (km: number, powerKw: number, busV: number): void => {
    points.push({ km, atS, soc: raft.soc, powerKw, busV, cellC: raft.cellMaxC() });
  };
  if (keepsEvery > 0) keep(0, 0, raft.packV());
  for (const [i, load] of loads.entries()) {
    const { seconds, km, section } = load;
    const hours = seconds / 3600;
    const usedKwh = load.tractionKwh + load.auxiliariesKwh;
    const emfV = raft.emfV();
    const ohm = raft.seriesOhm();
    const wishW = ((load.returnKwh - usedKwh) * 1000) / hours / count;
    const wishA = currentOf(wishW, emfV, ohm);
    if (Number.isNaN(wishA) || raft.soc <= 0) {
      emptyAtKm = km;
      Object.assign(lowest, { soc: 0, km, section });
      break;
    }
    const raftA = wishA > 0 ? Math.min(wishA, mostChargeA(rig, raft, seconds)) : wishA;
    const busV = emfV + raftA * ohm;
    const kwh = (count * raftA * busV * hours) / 1000;
    const lostKwh = wishA > raftA ? Math.max(0, load.returnKwh - usedKwh - kwh) : 0;
    sum.lostKwh += lostKwh;
    sum.returnedKwh += load.returnKwh - lostKwh;
    if (kwh < 0) sum.drawnKwh -= kwh;
    else sum.chargedKwh += kwh;
    peakRaftA = Math.max(peakRaftA, -raftA);
    raft.step(seconds, raftA);
    atS += seconds;
    lowestCellV = Math.min(lowestCellV, raft.cellMinV());
    hottestC = Math.max(hottestC, raft.cellMaxC());
    if (raft.soc < lowest.soc) Object.assign(lowest, { soc: raft.soc, km, section });
    if (keepsEvery > 0 && (i % keepsEvery === 0 || i === loads.length - 1)) keep(km, -kwh / hours, busV);
  }
  return {
    ...{ points, lowest, hottestC, peakRaftA, lowestCellV, emptyAtKm, ...sum },
    ...{ socEnd: emptyAtKm === null ? raft.soc : 0, cellC: raft.cellC },
  };
}

/** Into a raft, A; NaN where it cannot give so much. */
function currentOf(watt: number, emfV: number, ohm: number): number {
  const square = emfV * emfV + 4 * ohm * watt;
  return square < 0 ? Number.NaN : (Math.sqrt(square) - emfV) / (2 * ohm);
}

/** What its management unit allows, what brings its highest cell to the ceiling, and the room up to the ceiling. */
function mostChargeA({ battery }: Rig, raft: TrainModel['rafts'][number], seconds: number): number {
  const { ceilingCellV, parallelCells, cell } = battery.raft;
  const restV = raft.cell.emfV() + raft.spreadV / 2;
  const byCeilingA = ((ceilingCellV - restV) / raft.cell.r0Ohm()) * parallelCells;
  const roomAh = (battery.ceilingSoc - raft.soc) * cell.capacityAh * parallelCells;
  return Math.max(0, Math.min(raft.unit.allowedA, byCeilingA, (roomAh * 3600) / seconds));
}
