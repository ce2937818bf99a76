/** What a day is fed from, as files give it: the trackside store, the tariff of the grid, renewables beside it. */
import { z } from 'zod';
import { name, nonNegative, positive, share, source } from '../rig/schema-parts.js';
import { timeOfDay } from './day-clock.js';
import type { FileKind } from './planning-file.js';

const title = z.string().min(3);
const note = z.string().optional();

export const storeSchema = z.strictObject({
  ...{ name, title, note },
  capacityKwh: positive(),
  floorShare: share().describe('of the capacity; never emptied further'),
  ceilingShare: share(),
  startShare: share().describe('at the beginning of the day; as much is in it again at the end'),
  maxChargeKw: positive().describe('at its terminals, from grid and renewables'),
  maxDischargeKw: positive().describe('at its terminals, to the trains'),
  chargeEfficiencyShare: share().min(0.3),
  dischargeEfficiencyShare: share().min(0.3),
  standingLossKw: nonNegative(),
  source,
});
export type Store = z.output<typeof storeSchema>;

export const STORE: FileKind<typeof storeSchema> = {
  name: 'store',
  folder: 'stores',
  schema: storeSchema,
  rules({ floorShare, ceilingShare, startShare }, say) {
    if (floorShare >= ceilingShare)
      say(['ceilingShare'], `found ${ceilingShare}, expected more than floorShare, ${floorShare}`);
    if (startShare < floorShare || startShare > ceilingShare)
      say(['startShare'], `found ${startShare}, expected from ${floorShare} to ${ceilingShare}`);
  },
};

export const tariffSchema = z.strictObject({
  ...{ name, title, note },
  currency: z.string().regex(/^[A-Za-z]{1,8}$/, 'a word for the money, e.g. EUR'),
  periods: z
    .array(z.strictObject({ from: timeOfDay(), pricePerKwh: nonNegative() }))
    .min(1)
    .max(200)
    .describe('each until the next; the day after goes on as the first day'),
  peakPricePerKw: nonNegative().describe('a day, of the highest mean draw over one step of the timetable'),
  maxGridKw: positive().describe('of the connection'),
  fuelPricePerKwh: nonNegative().describe('of what engine-driven supplies give at their terminals'),
  source,
});
export type Tariff = z.output<typeof tariffSchema>;

export const TARIFF: FileKind<typeof tariffSchema> = {
  name: 'tariff',
  folder: 'tariffs',
  schema: tariffSchema,
  rules({ periods }, say) {
    if (periods[0]!.from !== 0)
      say(['periods', 0, 'from'], 'expected 00:00: the price of the first hour must be known');
    inOrder(
      periods.map((p) => p.from),
      (i) => say(['periods', i, 'from'], 'expected a later time than that of the period before'),
    );
  },
};

export const renewablesSchema = z.strictObject({
  ...{ name, title, note },
  points: z
    .array(z.strictObject({ at: timeOfDay(), powerKw: nonNegative() }))
    .min(2)
    .max(500)
    .describe('straight between them, nothing before the first and after the last'),
  source,
});
export type Renewables = z.output<typeof renewablesSchema>;

export const RENEWABLES: FileKind<typeof renewablesSchema> = {
  name: 'renewables',
  folder: 'renewables',
  schema: renewablesSchema,
  rules({ points }, say) {
    inOrder(
      points.map((p) => p.at),
      (i) => say(['points', i, 'at'], 'expected a later time than that of the point before'),
    );
  },
};

function inOrder(times: readonly number[], say: (index: number) => void): void {
  times.forEach((time, i) => {
    if (i > 0 && time <= times[i - 1]!) say(i);
  });
}

const DAY_S = 86_400;

export function priceAt({ periods }: Tariff, seconds: number): number {
  const at = seconds % DAY_S;
  return periods.findLast((p) => p.from <= at)!.pricePerKwh;
}

export function renewableKw(renewables: Renewables | null, seconds: number): number {
  if (renewables === null) return 0;
  const { points } = renewables;
  const k = points.findIndex((p) => p.at >= seconds);
  if (k < 0 || (k === 0 && points[0]!.at > seconds)) return 0;
  if (k === 0) return points[0]!.powerKw;
  const [a, b] = [points[k - 1]!, points[k]!];
  return a.powerKw + ((b.powerKw - a.powerKw) * (seconds - a.at)) / (b.at - a.at);
}
