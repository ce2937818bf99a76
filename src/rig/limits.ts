/** What limits a rig: every limit with who vouches for it, and which one binds under given conditions. */
import type { LoadedRig } from './load.js';
import { ambientFactor, cableRatingA, steadyConductorC } from './ratings.js';
import type { Rig } from './schema.js';
import { unitOf } from './units.js';
import { batteryRafts, openCircuitV, packV, raftOhm } from './volts.js';

export interface LimitRow {
  /** Dotted key, e.g. `isolation.minOhmPerVolt`. */
  readonly path: string;
  readonly value: number;
  readonly unit: string;
  readonly source: string;
}

/** Every limit of the rig in the order of the file. */
export function listLimits(loaded: LoadedRig): LimitRow[] {
  return [...loaded.sources].map(([path, source]) => ({
    path,
    value: valueAt(loaded.rig, path),
    unit: unitOf(path),
    source,
  }));
}

function valueAt(rig: Rig, path: string): number {
  let value: unknown = rig;
  for (const key of path.split('.')) value = (value as Record<string, unknown>)[key];
  return value as number;
}

export interface Conditions {
  /** Open-circuit volts of the train bus. */
  readonly trainV: number;
  /** Air round cable and contacts; the rig's design ambient when left out. */
  readonly ambientC?: number;
  /** Hottest and coldest cell, taken as one; 25 °C when left out. */
  readonly cellC?: number;
}

export interface BindingLimit {
  /** What it is, for people. */
  readonly limit: string;
  /** Key or keys it comes from. */
  readonly setting: string;
  readonly currentA: number;
}

/** The conditions of a train at a state of charge. */
export function conditionsAtSoc(rig: Rig, soc: number, rest: Omit<Conditions, 'trainV'> = {}): Conditions {
  return { ...rest, trainV: packV(rig, openCircuitV(rig.battery.raft.cell, soc)) };
}

/**
 * Every limit of the current in steady service, the one that binds first. A limit that cannot be worked out
 * (an ambient beyond the table, say) counts as 0 A: it permits nothing.
 *
 * Converter and supply power are taken at the train voltage *under the current itself*: a pack rises when it is
 * charged, so the same power gives less current than the open-circuit voltage suggests.
 */
export function bindingAt(rig: Rig, at: Conditions): BindingLimit[] {
  const { connection, converter, supply } = rig;
  const ambientC = at.ambientC ?? connection.cable.ambientC;
  const count = batteryRafts(rig);
  const packOhm = raftOhm(rig) / Math.max(1, count);
  const reachable = at.trainV >= converter.minVoltageV && at.trainV <= converter.maxVoltageV;
  const ceilingV = Math.min(packV(rig, rig.battery.raft.ceilingCellV), converter.maxVoltageV);
  const supplyW = supply.maxPowerW - converter.noLoadLossW;

  const rows: BindingLimit[] = [
    row('converter current', 'converter.maxCurrentA', converter.maxCurrentA),
    row('converter voltage range', 'converter.minVoltageV, converter.maxVoltageV', reachable ? Infinity : 0),
    row('converter power', 'converter.maxPowerW', currentOfPower(converter.maxPowerW, at.trainV, packOhm)),
    row(
      'supply power',
      'supply.maxPowerW',
      currentOfPower(supplyW, at.trainV + converter.lossVoltsPerA, packOhm),
    ),
    row('connection rating', 'connection.ratedCurrentA', connection.ratedCurrentA),
    row('cable rating in this air', 'connection.cable.mm2', cableRatingA(connection.cable, ambientC)),
    row('cable derating', 'connection.cable.derateFromC', cableDerateA(rig, ambientC)),
    row(
      'contact drop',
      'connection.contact.maxDropV',
      connection.contact.maxDropV / connection.contact.resistanceOhm,
    ),
    row('contact derating', 'connection.contact.derateFromC', contactDerateA(rig, ambientC)),
    row('rafts together', 'battery.raft.maxCurrentA', count * raftCurrentA(rig, at.cellC ?? 25)),
    row('cell ceiling', 'battery.raft.ceilingCellV', (ceilingV - at.trainV) / packOhm),
  ];
  return rows.sort((a, b) => a.currentA - b.currentA);
}

const row = (limit: string, setting: string, currentA: number): BindingLimit => ({
  limit,
  setting,
  // What cannot be worked out permits nothing.
  currentA: Number.isNaN(currentA) ? 0 : Math.max(0, currentA),
});

/** I such that (V + I·R)·I = P. */
function currentOfPower(powerW: number, volts: number, ohm: number): number {
  if (!(powerW > 0 && volts > 0)) return 0;
  return (2 * powerW) / (volts + Math.sqrt(volts ** 2 + 4 * ohm * powerW));
}

/** Steady current at which the conductor just reaches its derating temperature; found by halving. */
function cableDerateA(rig: Rig, ambientC: number): number {
  const { cable } = rig.connection;
  if (!(ambientC < cable.derateFromC) || Number.isNaN(ambientFactor(ambientC))) return 0;
  let low = 0;
  let high = 10_000;
  for (let i = 0; i < 50; i++) {
    const middle = (low + high) / 2;
    if (steadyConductorC(cable, middle, ambientC) <= cable.derateFromC) low = middle;
    else high = middle;
  }
  return low;
}

/** Steady current at which a new contact just reaches its derating temperature. */
function contactDerateA(rig: Rig, ambientC: number): number {
  const { contact } = rig.connection;
  const watts = (contact.derateFromC - ambientC) / contact.thermalResistanceKPerW;
  return Math.sqrt(watts / contact.resistanceOhm);
}

/** Current of one raft by cell temperature: none in the cold, falling from the derating point to none at the top. */
export function raftCurrentA(rig: Rig, cellC: number): number {
  const { raft } = rig.battery;
  if (!(cellC >= raft.minChargeC && cellC <= raft.maxChargeC)) return 0;
  const share = (raft.maxChargeC - cellC) / (raft.maxChargeC - raft.derateFromC);
  return raft.maxCurrentA * Math.min(1, share);
}

export interface BindingRow {
  readonly trainV: number;
  readonly binding: BindingLimit;
  /** All of them, the binding one first. */
  readonly limits: readonly BindingLimit[];
}

/** The system's voltages, 500 to 900 V by 50 V unless told otherwise. */
export function bindingTable(
  rig: Rig,
  conditions: Omit<Conditions, 'trainV'> = {},
  range: { readonly fromV: number; readonly toV: number; readonly stepV: number } = {
    fromV: 500,
    toV: 900,
    stepV: 50,
  },
): BindingRow[] {
  const count = Math.min(1000, Math.floor((range.toV - range.fromV) / range.stepV) + 1);
  return Array.from({ length: Math.max(0, count) }, (_, i) => {
    const trainV = range.fromV + i * range.stepV;
    const limits = bindingAt(rig, { ...conditions, trainV });
    return { trainV, binding: limits[0]!, limits };
  });
}
