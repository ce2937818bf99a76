/** Small days put together in code, with the shipped rigs and a lead that is given instead of measured. */
import { type Store, storeSchema, type Tariff, tariffSchema } from '../../../src/plan/day-files.js';
import type { DayInput } from '../../../src/plan/day-input.js';
import { timetableSchema } from '../../../src/plan/timetable.js';
import { loadRig } from '../../../src/rig/load.js';

const { rig } = loadRig('terminus-shoes');
const LEAD = { toCurrentS: 12, atHoldPointS: 3.5, toFreeS: 3 };

export const storeOf = (over: Record<string, unknown> = {}): Store =>
  storeSchema.parse({
    ...{ name: 'store', title: 'a store', capacityKwh: 300, floorShare: 0.1, ceilingShare: 0.9 },
    ...{ startShare: 0.5, maxChargeKw: 150, maxDischargeKw: 1300, standingLossKw: 1 },
    ...{ chargeEfficiencyShare: 0.95, dischargeEfficiencyShare: 0.96, source: 'test' },
    ...over,
  });

export const tariffOf = (over: Record<string, unknown> = {}): Tariff =>
  tariffSchema.parse({
    ...{ name: 'tariff', title: 'a tariff', currency: 'EUR', peakPricePerKw: 0.2, maxGridKw: 200 },
    periods: [
      { from: '00:00', pricePerKwh: 0.1 },
      { from: '07:00', pricePerKwh: 0.3 },
      { from: '09:00', pricePerKwh: 0.15 },
    ],
    ...{ fuelPricePerKwh: 0.4, source: 'test' },
    ...over,
  });

interface Stop {
  readonly at: string;
  readonly arrives: string;
  readonly departs: string;
  readonly [key: string]: unknown;
}

/** Each train sets out from the yard and calls at the shoes. */
export const callsOf = (...times: readonly [arrives: string, departs: string][]): Stop[] => [
  { at: 'yard', arrives: '06:00', departs: '06:05' },
  ...times.map(([arrives, departs]) => ({ at: 'shoes', arrives, departs, run: { energyKwh: 50 } })),
];

export function dayOf(
  trains: readonly (readonly Stop[])[],
  over: { readonly store?: Store; readonly tariff?: Tariff; readonly day?: Record<string, unknown> } = {},
): DayInput {
  const day = timetableSchema.parse({
    ...{ name: 'day', title: 'a day', from: '06:00', until: '10:00', stepS: 300, ambientC: 15 },
    berths: [{ name: 'yard' }, { name: 'shoes', rig: 'terminus-shoes' }],
    trains: trains.map((calls, t) => ({
      ...{ name: `train-${t + 1}`, rig: 'terminus-shoes', startSoc: 0.6, startC: 18, auxiliariesKw: 20 },
      calls,
    })),
    ...over.day,
  });
  return {
    ...{ day, store: over.store ?? storeOf(), tariff: over.tariff ?? tariffOf(), renewables: null },
    trainRig: () => rig,
    pairAt: (_, berth) => (berth === 'shoes' ? { key: 'shoes', rig, lead: LEAD } : null),
    loadsTo: () => null,
  };
}
