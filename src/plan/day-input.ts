/** A day as it is planned: its files read and held against each other, every fault at once. */
import path from 'node:path';
import { type Files, realFiles } from '../host/files.js';
import { type Fault, InputError } from '../host/input-error.js';
import { type LoadedRig, loadRig } from '../rig/load.js';
import { dotted, placeOf } from '../rig/locate.js';
import type { Rig } from '../rig/schema.js';
import { dayTime } from './day-clock.js';
import { RENEWABLES, type Renewables, STORE, type Store, TARIFF, type Tariff } from './day-files.js';
import { type Load, loadsOf } from './drive.js';
import { leadOf } from './lead.js';
import { planningPath, type Read, readPlanning } from './planning-file.js';
import { ROUTE, reversed } from './route.js';
import { profileOf } from './speed-profile.js';
import type { Pair } from './stop-source.js';
import { type Call, TIMETABLE, type Timetable, type Train } from './timetable.js';

export interface DayFiles {
  readonly timetable: string;
  readonly rigs: readonly string[];
  readonly store: string;
  readonly tariff: string;
  readonly renewables?: string;
}

export interface DayInput {
  readonly day: Timetable;
  readonly store: Store;
  readonly tariff: Tariff;
  readonly renewables: Renewables | null;
  /** The train's own rig: its battery. */
  readonly trainRig: (train: Train) => Rig;
  /** null where a train cannot charge. */
  readonly pairAt: (train: Train, berth: string) => Pair | null;
  /** What a run takes; null for a call without one. */
  readonly loadsTo: (call: Call) => readonly Load[] | null;
}

/** Without a route a run is told in parts no longer than this. */
const PART_S = 120;

/** @throws InputError naming every fault with file and line */
export async function readDay(files: DayFiles, disk: Files = realFiles): Promise<DayInput> {
  const faults: Fault[] = [];
  const unusable: string[] = [];
  const attempt = <T>(read: () => T): T | null => {
    try {
      return read();
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      if (error.faults.length === 0) faults.push({ file: '', line: 0, path: '', message: error.message });
      else {
        unusable.push(error.what);
        faults.push(...error.faults);
      }
      return null;
    }
  };
  const rigs = new Map<string, LoadedRig>();
  for (const file of files.rigs) {
    const loaded = attempt(() => loadRig(file, disk));
    if (loaded !== null) rigs.set(loaded.rig.name, loaded);
  }
  const store = attempt(() => readPlanning(STORE, files.store, disk));
  const tariff = attempt(() => readPlanning(TARIFF, files.tariff, disk));
  const { renewables: wind } = files;
  const renewables = wind === undefined ? null : attempt(() => readPlanning(RENEWABLES, wind, disk));
  const routes = new Map<string, readonly Load[]>();
  const read = attempt(() =>
    readPlanning(TIMETABLE, files.timetable, disk, (day, say) => rigsOf(day, rigs, say)),
  );
  if (read !== null) faults.push(...readRoutes(read, routes, disk));
  if (read === null || store === null || tariff === null || faults.length > 0)
    throw new InputError(
      unusable.length === 1 && faults.every(({ file }) => file !== '')
        ? unusable[0]!
        : `the day of ${files.timetable} cannot be planned`,
      faults,
    );
  const day = read.value;
  return {
    ...{ day, store: store.value, tariff: tariff.value, renewables: renewables?.value ?? null },
    trainRig: (train) => rigs.get(train.rig)!.rig,
    pairAt: pairsOf(day, rigs, await pairLeads(day, rigs)),
    loadsTo: ({ run }) => (run === undefined ? null : (routes.get(keyOf(run)) ?? null)),
  };
}

const keyOf = (run: NonNullable<Call['run']>): string => `${run.route ?? ''} ${run.reversed}`;

function rigsOf(
  day: Timetable,
  rigs: ReadonlyMap<string, LoadedRig>,
  say: (at: readonly (string | number)[], message: string) => void,
): void {
  const known = [...rigs.keys()].join(', ') || 'none';
  const mustBe = (rig: string | undefined, at: readonly (string | number)[]): boolean => {
    if (rig === undefined) return false;
    if (!rigs.has(rig)) say(at, `there is no rig ${rig} among those given by --rig: ${known}`);
    return rigs.has(rig);
  };
  day.berths.forEach(({ rig }, b) => {
    mustBe(rig, ['berths', b, 'rig']);
  });
  day.trains.forEach(({ rig, startSoc, calls }, t) => {
    if (!mustBe(rig, ['trains', t, 'rig'])) return;
    const { floorSoc, ceilingSoc, rafts } = rigs.get(rig)!.rig.battery;
    if (!rafts.some(({ kind }) => kind === 'battery'))
      say(['trains', t, 'rig'], `rig ${rig} has no battery raft`);
    if (startSoc > ceilingSoc || startSoc < floorSoc)
      say(
        ['trains', t, 'startSoc'],
        `found ${startSoc}, expected from the floor ${floorSoc} to the ceiling ${ceilingSoc} of ${rig}`,
      );
    calls.forEach(({ toSoc, leaveSoc }, c) => {
      for (const [key, value] of Object.entries({ toSoc, leaveSoc }))
        if (value !== undefined && value > ceilingSoc)
          say(['trains', t, 'calls', c, key], `found ${value}, above the ceiling of ${rig}, ${ceilingSoc}`);
    });
  });
}

/** Every route that is named, and whether its train can keep the times. */
function readRoutes(
  { value: day, file, root }: Read<Timetable>,
  routes: Map<string, readonly Load[]>,
  disk: Files,
): Fault[] {
  const faults: Fault[] = [];
  const beside = path.dirname(file);
  day.trains.forEach(({ calls }, t) => {
    calls.forEach((call, c) => {
      const { run } = call;
      if (run?.route === undefined) return;
      const { route: name } = run;
      const at = ['trains', t, 'calls', c];
      const fault = (keys: readonly (string | number)[], message: string): void => {
        faults.push({ ...placeOf(root, [...at, ...keys]), path: dotted([...at, ...keys]), message });
      };
      try {
        const key = keyOf(run);
        if (!routes.has(key)) {
          const route = readPlanning(ROUTE, planningPath(ROUTE, name, disk, beside), disk).value;
          const way = run.reversed ? reversed(route) : route;
          routes.set(key, loadsOf(way, profileOf(way)));
        }
        const takesS = routes.get(key)!.reduce((sum, load) => sum + load.seconds, 0);
        const givenS = call.arrives - calls[c - 1]!.departs;
        if (takesS > givenS)
          fault(
            ['arrives'],
            `the route ${name} takes ${dayTime(Math.ceil(takesS))} h; between ${dayTime(calls[c - 1]!.departs)} and ${dayTime(call.arrives)} there is less time`,
          );
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        if (error.faults.length > 0) faults.push(...error.faults);
        else fault(['run', 'route'], error.message);
      }
    });
  });
  return faults;
}

const pairKey = (berthRig: string, trainRig: string): string => `${berthRig}/${trainRig}`;

/** The charger's rig with the train's battery. */
const joined = (berth: LoadedRig, train: LoadedRig): LoadedRig => ({
  ...berth,
  rig: berth === train ? berth.rig : { ...berth.rig, battery: train.rig.battery },
});

/** What a session needs beside the charge is measured once for each charger and battery, on a middling one. */
const LEAD_AT = { soc: 0.5, cellC: 25, ambientC: 20 } as const;

async function pairLeads(day: Timetable, rigs: ReadonlyMap<string, LoadedRig>): Promise<Map<string, Pair>> {
  const pairs = new Map<string, Pair>();
  for (const { name, rig, calls } of day.trains)
    for (const call of calls) {
      const berth = day.berths.find((b) => b.name === call.at)?.rig;
      if (berth === undefined || call.toSoc === 0) continue;
      const key = pairKey(berth, rig);
      if (pairs.has(key)) continue;
      const loaded = joined(rigs.get(berth)!, rigs.get(rig)!);
      try {
        const lead = await leadOf(loaded, LEAD_AT.soc, LEAD_AT.cellC, LEAD_AT.ambientC);
        pairs.set(key, { key, rig: loaded.rig, lead });
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        throw new InputError(`${name} (battery of ${rig}) cannot charge at ${call.at}: ${error.message}`);
      }
    }
  return pairs;
}

function pairsOf(day: Timetable, rigs: ReadonlyMap<string, LoadedRig>, pairs: ReadonlyMap<string, Pair>) {
  const rigAt = new Map(day.berths.map((b) => [b.name, b.rig]));
  return (train: Train, berth: string): Pair | null => {
    const rig = rigAt.get(berth);
    return rig === undefined || !rigs.has(rig) ? null : (pairs.get(pairKey(rig, train.rig)) ?? null);
  };
}

/** The same day with runs told in parts of about so long, for what must be asked very often. */
export function coarse(input: DayInput, partS = 30): DayInput {
  const merged = new Map<readonly Load[], readonly Load[]>();
  return {
    ...input,
    loadsTo(call) {
      const loads = input.loadsTo(call);
      if (loads === null) return null;
      const known = merged.get(loads) ?? mergedLoads(loads, partS);
      merged.set(loads, known);
      return known;
    },
  };
}

function mergedLoads(loads: readonly Load[], partS: number): Load[] {
  const parts: Load[] = [];
  for (const load of loads) {
    const last = parts.at(-1);
    if (last === undefined || last.seconds + load.seconds > partS) parts.push(load);
    else
      parts[parts.length - 1] = {
        ...{ km: load.km, section: load.section, seconds: last.seconds + load.seconds },
        tractionKwh: last.tractionKwh + load.tractionKwh,
        auxiliariesKwh: last.auxiliariesKwh + load.auxiliariesKwh,
        returnKwh: last.returnKwh + load.returnKwh,
      };
  }
  return parts;
}

/** A run without a route: even power over its time. */
export function evenLoads(energyKwh: number, seconds: number): Load[] {
  const parts = Math.max(1, Math.ceil(seconds / PART_S));
  return Array.from({ length: parts }, (_, i) => ({
    ...{ seconds: seconds / parts, km: i + 1, section: 0 },
    ...{ tractionKwh: energyKwh / parts, auxiliariesKwh: 0, returnKwh: 0 },
  }));
}
