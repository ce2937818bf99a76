/** A route's plan for people. */
import { figure } from '../host/words.js';
import type { Rig } from '../rig/schema.js';
import type { RoutePlan } from './plan-route.js';
import type { Route } from './route.js';

export const KM_A_MILE = 1.609344;
export const percent = (share: number): string => `${(100 * share).toFixed(1)} %`;
/** h:mm of seconds. */
export const clockOf = (seconds: number): string => {
  const minutes = Math.round(seconds / 60);
  return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, '0')} h`;
};

/** Name, figure, what it is. */
export type WordRow = readonly [name: string, value: string, text: string];

export function energyRows({ energy }: RoutePlan): WordRow[] {
  const kwh = (value: number): string => `${value.toFixed(1)} kWh`;
  return [
    ['traction', kwh(energy.tractionKwh), 'at the train bus'],
    ['auxiliaries', kwh(energy.auxiliariesKwh), 'at the train bus'],
    [
      'returned by braking',
      kwh(energy.returnedKwh),
      `${percent(energy.returnedShare)} of what traction took; ${kwh(energy.brakingKwh)} of braking at the wheels`,
    ],
    ['lost for want of room or current', kwh(energy.lostKwh), 'goes into the brakes'],
    ['from the rafts, net', kwh(energy.netKwh), 'at their terminals'],
    ['running resistance', kwh(energy.resistanceKwh), 'at the wheels'],
    ['climb', kwh(energy.climbKwh), 'at the wheels, from the first end to the last'],
  ];
}

export function rangeRows({ range, wish }: RoutePlan, { battery }: Rig): WordRow[] {
  const km = (value: number): string => `${value.toFixed(0)} km (${(value / KM_A_MILE).toFixed(0)} miles)`;
  const kwh = (value: number): string => `${value.toFixed(0)} kWh`;
  return [
    ['on paper', km(range.theoreticalKm), `${kwh(range.nameplateKwh)} of new cells, empty to full`],
    [
      'usable',
      km(range.usableKm),
      `${kwh(range.usableKwh)} from the floor ${percent(battery.floorSoc)} to the ceiling ${percent(battery.ceilingSoc)}`,
    ],
    ['kept below the floor', kwh(range.belowFloorKwh), 'never planned with'],
    ['headroom above the ceiling', kwh(range.headroomKwh), 'for regeneration'],
    ['lost to age', kwh(range.lostToAgeKwh), `${percent(wish.ageing)} of the capacity is left`],
    [
      'taken',
      `${figure(range.kwhPerKm, 3)} kWh/km`,
      `${figure(range.kwhPerKm * KM_A_MILE, 3)} kWh a mile, net, on this route`,
    ],
  ];
}

export function verdictOf(plan: RoutePlan, route: Route, { battery }: Rig): string {
  const { lowest, emptyAtKm } = plan.drive;
  const where = `km ${lowest.km.toFixed(1)}, before ${route.sections[lowest.section]?.to ?? route.from}`;
  if (emptyAtKm !== null)
    return `does not get there: the rafts can give no more at km ${emptyAtKm.toFixed(1)}`;
  const told = `lowest ${percent(lowest.soc)} at ${where}; floor ${percent(battery.floorSoc)}`;
  return plan.feasible ? told : `crosses the floor: ${told}`;
}

export function setOutNote(plan: RoutePlan): string[] {
  return plan.setOut.flatMap(({ from, lowestSoc, highestSoc, plannedSoc }) => {
    if (lowestSoc === null)
      return [`${from}: not even the ceiling keeps the train above the floor from here`];
    if (lowestSoc > highestSoc)
      return [`${from}: what keeps above the floor leaves no room for all that braking gives back`];
    if (plannedSoc > highestSoc)
      return [`${from}: leave with no more than ${percent(highestSoc)}, or braking further on finds no room`];
    return [];
  });
}
