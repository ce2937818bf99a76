/**
 * How near the reported extremes of a session came to the limits its rig states, without deciding anything anew. The
 * extremes are those of the whole record, whatever phase it was in; the margins of a replay know the phase.
 */
import type { Extreme } from '../audit/extremes.js';
import type { Rig } from '../rig/schema.js';

/** The same form for extremes and for the margins of a replay. */
export interface NearLimit {
  /** Field of the dictionary, or the code of a check with its part. */
  readonly what: string;
  readonly unit: string;
  readonly setting: string;
  readonly reading: number;
  readonly limit: number;
  /** Share of the limit that was left; negative when it was exceeded. */
  readonly left: number;
}

interface Held {
  readonly field: RegExp;
  readonly side: 'most' | 'least';
  readonly setting: string;
  limit(rig: Rig): number | undefined;
}

const most = (field: RegExp, setting: string, limit: Held['limit']): Held => ({
  field,
  side: 'most',
  setting,
  limit,
});
const least = (field: RegExp, setting: string, limit: Held['limit']): Held => ({
  field,
  side: 'least',
  setting,
  limit,
});

const HELD: readonly Held[] = [
  most(/^meter\.currentMaxA$/, 'connection.ratedCurrentA', (r) => r.connection.ratedCurrentA),
  most(/^meter\.outputMaxV$/, 'converter.maxVoltageV', (r) => r.converter.maxVoltageV),
  most(/^meter\.cableC$/, 'connection.cable.maxConductorC', (r) => r.connection.cable.maxConductorC),
  most(/^meter\.contactC$/, 'connection.contact.maxC', (r) => r.connection.contact.maxC),
  most(/^converter\.outputA$/, 'converter.maxCurrentA', (r) => r.converter.maxCurrentA),
  most(/^berth\.bondOhm$/, 'berth.maxBondOhm', (r) => r.berth.maxBondOhm),
  most(/^raft\d\.packA$/, 'battery.raft.maxCurrentA', (r) => r.battery.raft.maxCurrentA),
  most(/^raft\d\.cellMaxV$/, 'battery.raft.maxCellV', (r) => r.battery.raft.maxCellV),
  least(/^raft\d\.cellMinV$/, 'battery.raft.minCellV', (r) => r.battery.raft.minCellV),
  most(/^raft\d\.cellMaxC$/, 'battery.raft.maxChargeC', (r) => r.battery.raft.maxChargeC),
  least(/^raft\d\.cellMinC$/, 'battery.raft.minChargeC', (r) => r.battery.raft.minChargeC),
  most(/^supply\.powerW$/, 'supply.maxPowerW', (r) => r.supply.maxPowerW),
  least(/^supply\.voltageV$/, 'supply.minVoltageV', (r) => r.supply.minVoltageV),
  least(/^supply\.frequencyHz$/, 'supply.minFrequencyHz', (r) => r.supply.minFrequencyHz),
];

export function limitsMet(extremes: readonly Extreme[], rig: Rig): NearLimit[] {
  return extremes.flatMap((extreme) =>
    HELD.filter(({ field }) => field.test(extreme.field)).flatMap(({ side, setting, limit: limitOf }) => {
      const limit = limitOf(rig) ?? Number.NaN;
      // A limit of 0 °C has no share of it.
      if (!Number.isFinite(limit) || limit === 0) return [];
      const reading = extreme[side];
      const left = (side === 'most' ? limit - reading : reading - limit) / Math.abs(limit);
      return [{ what: extreme.field, unit: extreme.unit, setting, reading, limit, left }];
    }),
  );
}
