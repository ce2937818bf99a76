/** What a route takes, how low the battery goes, and with how much charge to set out: neither too little nor too much. */
import { InputError } from '../host/input-error.js';
import type { Rig } from '../rig/schema.js';
import { type Drive, drive, type Load, loadsOf } from './drive.js';
import { aged, type Range, rangeOf } from './range.js';
import type { Route } from './route.js';
import { GRAVITY_MPS2, type Piece, profileOf } from './speed-profile.js';

export interface RouteWish {
  readonly socFrom: number;
  /** Of the capacity of new cells, what is left. */
  readonly ageing: number;
  readonly cellC: number;
  readonly ambientC: number;
}

/** From a place at which the train stands. */
export interface SetOut {
  readonly from: string;
  readonly km: number;
  /** With this much it never crosses the floor; null where the ceiling is not enough. */
  readonly lowestSoc: number | null;
  /** With no more than this nothing that braking gives back is given away for want of room. */
  readonly highestSoc: number;
  /** With what the plan has there. */
  readonly plannedSoc: number;
}

export interface RouteEnergy {
  readonly tractionKwh: number;
  readonly auxiliariesKwh: number;
  /** At the wheels: against running resistance, up and down, and in braking. */
  readonly resistanceKwh: number;
  readonly climbKwh: number;
  readonly brakingKwh: number;
  /** At the train bus. */
  readonly returnableKwh: number;
  readonly returnedKwh: number;
  readonly lostKwh: number;
  /** Of what traction took. */
  readonly returnedShare: number;
  /** From the rafts, less what went back into them. */
  readonly netKwh: number;
}

export interface RoutePlan {
  readonly feasible: boolean;
  readonly wish: RouteWish;
  readonly lengthKm: number;
  readonly runS: number;
  readonly energy: RouteEnergy;
  readonly drive: Drive;
  readonly pieces: readonly Piece[];
  readonly setOut: readonly SetOut[];
  readonly range: Range;
  readonly warnings: readonly string[];
}

/** Values of the state of charge are looked for this finely. */
const NEAR_SOC = 1 / 2048;
/** Less than this is no energy given away: a piece of rounding. */
const NO_KWH = 0.01;
const POINTS = 600;

/** @throws InputError naming what in the wish cannot be */
export function planRoute(rig: Rig, route: Route, wish: RouteWish): RoutePlan {
  refuse(rig, wish);
  const used = aged(rig, wish.ageing);
  const { cellC, ambientC, socFrom } = wish;
  const pieces = profileOf(route);
  const loads = loadsOf(route, pieces);
  const run = drive(used, loads, { soc: socFrom, cellC, ambientC }, Math.ceil(loads.length / POINTS));
  const energy = energyOf(route, pieces, loads, run);
  const lengthKm = route.sections.reduce((sum, s) => sum + s.lengthKm, 0);
  return {
    feasible: run.emptyAtKm === null && run.lowest.soc >= rig.battery.floorSoc,
    ...{ wish, lengthKm, energy, drive: run, pieces },
    runS: loads.reduce((sum, l) => sum + l.seconds, 0),
    setOut: setOutOf(used, route, loads, wish),
    range: rangeOf(rig, wish.ageing, energy.netKwh / lengthKm),
    warnings: warningsOf(rig, run),
  };
}

function refuse({ name, battery }: Rig, { socFrom, ageing }: RouteWish): void {
  if (!battery.rafts.some(({ kind }) => kind === 'battery'))
    throw new InputError(`rig ${name}: its train has no battery raft`);
  if (socFrom > battery.ceilingSoc)
    throw new InputError(
      `--soc-from ${socFrom}: above the ceiling of rig ${name}, ${battery.ceilingSoc} (battery.ceilingSoc)`,
    );
  if (!(socFrom > 0)) throw new InputError(`--soc-from ${socFrom}: an empty battery goes nowhere`);
  if (!(ageing >= 0.3))
    throw new InputError(
      `--ageing ${ageing}: expected what is left of the capacity, from 0.3 to 1; 0.8 is the usual end of life`,
    );
}

function energyOf(route: Route, pieces: readonly Piece[], loads: readonly Load[], run: Drive): RouteEnergy {
  const total = <T>(list: readonly T[], pick: (item: T) => number): number =>
    list.reduce((sum, item) => sum + pick(item), 0);
  const tractionKwh = total(loads, (l) => l.tractionKwh);
  const reckonedM = route.sections.reduce(
    (sum, s) => sum + (s.energyKwhPerKm === undefined ? s.climbM : 0),
    0,
  );
  return {
    tractionKwh,
    auxiliariesKwh: total(loads, (l) => l.auxiliariesKwh),
    resistanceKwh: total(pieces, (p) => p.resistanceKwh),
    climbKwh: (route.train.massKg * GRAVITY_MPS2 * reckonedM) / 3.6e6,
    brakingKwh: total(pieces, (p) => p.brakingKwh),
    returnableKwh: total(loads, (l) => l.returnKwh),
    returnedKwh: run.returnedKwh,
    lostKwh: run.lostKwh,
    returnedShare: tractionKwh > 0 ? run.returnedKwh / tractionKwh : 0,
    netKwh: run.drawnKwh - run.chargedKwh,
  };
}

/** From the beginning and from every stop. */
function setOutOf(rig: Rig, route: Route, loads: readonly Load[], wish: RouteWish): SetOut[] {
  const { cellC, ambientC } = wish;
  const { floorSoc, ceilingSoc } = rig.battery;
  const found: SetOut[] = [];
  for (let s = 0; s < route.sections.length; s++) {
    if (s > 0 && route.sections[s - 1]!.stopS === 0) continue;
    const first = loads.findIndex((l) => l.section >= s);
    const rest = loads.slice(first);
    const from = (soc: number): Drive => drive(rig, rest, { soc, cellC, ambientC });
    const neverBelow = (soc: number): boolean => {
      const run = from(soc);
      return run.emptyAtKm === null && run.lowest.soc >= floorSoc;
    };
    const lowestSoc = neverBelow(ceilingSoc) ? halved(floorSoc, ceilingSoc, neverBelow).yes : null;
    // What is given away even with all the room there is, because the current is too high, no charge can save.
    const anywayKwh = from(lowestSoc ?? (floorSoc + ceilingSoc) / 2).lostKwh;
    const takesAll = (soc: number): boolean => from(soc).lostKwh <= anywayKwh + NO_KWH;
    const highestSoc = takesAll(ceilingSoc)
      ? ceilingSoc
      : halved(ceilingSoc, lowestSoc ?? floorSoc, takesAll).yes;
    const planned = drive(rig, loads.slice(0, first), { soc: wish.socFrom, cellC, ambientC });
    found.push({
      from: s === 0 ? route.from : route.sections[s - 1]!.to,
      km: route.sections.slice(0, s).reduce((sum, section) => sum + section.lengthKm, 0),
      ...{ lowestSoc, highestSoc, plannedSoc: planned.socEnd },
    });
  }
  return found;
}

/** Between a value for which it does not hold and one for which it does: the nearest to the first that does. */
function halved(no: number, yes: number, holds: (value: number) => boolean): { yes: number } {
  let [from, to] = [no, yes];
  while (Math.abs(to - from) > NEAR_SOC) {
    const mid = (from + to) / 2;
    if (holds(mid)) to = mid;
    else from = mid;
  }
  return { yes: to };
}

function warningsOf({ name, battery }: Rig, run: Drive): string[] {
  const { maxCurrentA, minCellV, maxChargeC } = battery.raft;
  const { peakRaftA, lowestCellV, hottestC, emptyAtKm } = run;
  const warnings: string[] = [];
  if (emptyAtKm !== null)
    warnings.push(`the rafts can give no more at km ${emptyAtKm.toFixed(1)}: what is told ends there`);
  if (peakRaftA > maxCurrentA)
    warnings.push(
      `driving takes up to ${peakRaftA.toFixed(0)} A from a raft; rig ${name} permits ${maxCurrentA} A (battery.raft.maxCurrentA), a figure for charging: ask for that of driving`,
    );
  if (lowestCellV < minCellV)
    warnings.push(
      `the weakest cell sinks to ${lowestCellV.toFixed(2)} V; its limit is ${minCellV} V (battery.raft.minCellV)`,
    );
  if (hottestC > maxChargeC)
    warnings.push(
      `the hottest cell reaches ${hottestC.toFixed(1)} °C; charging ends at ${maxChargeC} °C (battery.raft.maxChargeC)`,
    );
  return warnings;
}
