/** Least and greatest of every figure the devices reported, and when: from the received lines alone. */
import { ROLES, type Role } from '../rig/roles.js';
import type { Entry } from './entry.js';
import type { Picture } from './picture.js';

export interface Extreme {
  /** As in the dictionary of readings, e.g. `meter.currentMaxA`, `raft2.cellMaxV`. */
  readonly field: string;
  readonly unit: string;
  least: number;
  leastAtMs: number;
  most: number;
  mostAtMs: number;
}

const unitsOf = (role: string): readonly (readonly [field: string, unit: string])[] =>
  ROLES[(role.startsWith('raft') ? 'raft' : role) as Role].fields
    .filter(({ name, unit }) => unit !== '' || name === 'soc')
    .map(({ name, unit }) => [name, unit]);

export class Extremes {
  readonly #kept = new Map<string, readonly Extreme[]>();

  take({ line, tMs }: Entry): void {
    if (line?.verb !== 'report') return;
    for (const [role, values] of line.roles) {
      if (role === 'device') continue;
      for (const extreme of this.#of(role)) {
        const value = values[extreme.field.slice(role.length + 1)] ?? Number.NaN;
        if (value < extreme.least) Object.assign(extreme, { least: value, leastAtMs: tMs });
        if (value > extreme.most) Object.assign(extreme, { most: value, mostAtMs: tMs });
      }
    }
  }

  /** Fields that could be read at least once. */
  get list(): Extreme[] {
    return [...this.#kept.values()].flat().filter(({ least }) => Number.isFinite(least));
  }

  #of(role: string): readonly Extreme[] {
    const kept = this.#kept.get(role);
    if (kept !== undefined) return kept;
    const none = {
      least: Number.POSITIVE_INFINITY,
      leastAtMs: 0,
      most: Number.NEGATIVE_INFINITY,
      mostAtMs: 0,
    };
    const made = unitsOf(role).map(([name, unit]) => ({ field: `${role}.${name}`, unit, ...none }));
    this.#kept.set(role, made);
    return made;
  }
}

/** Energies integrated anew from the received lines, by the trapezoid rule between reports, kWh. */
export class EnergyLedger {
  toBatteryKwh = 0;
  fromSupplyKwh = 0;
  outOfConverterKwh = 0;
  intoTrainKwh = 0;
  #last: { readonly tMs: number; readonly w: readonly number[] } | null = null;

  /** @param picture the readings up to and including this record */
  take({ line, tMs }: Entry, picture: Picture): void {
    if (line?.verb !== 'report') return;
    const read = (role: string, field: string): number => {
      const value = picture.value(role, field);
      // What a port said last before it fell silent flows no longer, for all anybody knows.
      return Number.isFinite(value) && picture.ageMs(role) <= picture.rig.link.slowReadingMs ? value : 0;
    };
    let batteryW = 0;
    for (let i = 1; i <= picture.rig.battery.rafts.length; i++)
      batteryW += read(`raft${i}`, 'packV') * read(`raft${i}`, 'packA');
    const currentA = read('meter', 'currentA');
    const w = [
      batteryW,
      read('supply', 'powerW'),
      read('meter', 'outputV') * currentA,
      read('train', 'trainV') * currentA,
    ];
    const last = this.#last;
    this.#last = { tMs, w };
    if (last === null || tMs - last.tMs > LONGEST_GAP_MS) return;
    const kwh = (k: number): number =>
      ((((last.w[k] as number) + (w[k] as number)) / 2) * (tMs - last.tMs)) / MS_W_PER_KWH;
    this.toBatteryKwh += kwh(0);
    this.fromSupplyKwh += kwh(1);
    this.outOfConverterKwh += kwh(2);
    this.intoTrainKwh += kwh(3);
  }
}

/** A gap longer than this is not bridged. */
const LONGEST_GAP_MS = 1000;
const MS_W_PER_KWH = 3.6e9;
