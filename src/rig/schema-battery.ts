/** The part of the rig schema that is about the train's battery and about what stands behind the charger. */
import { z } from 'zod';
import { MAX_RAFTS } from './roles.js';
import { limit, name, nonNegative, positive, share, source } from './schema-parts.js';

/**
 * The published form of open-circuit volts: exponentialV·e^(rate·s) + c0 + c1·s + c2·s² + c3·s³, s from 0 to 1.
 * Its table is even, in steps of 1 %, and nowhere falls.
 */
const ocvFormSchema = z.strictObject({
  exponentialV: z.number(),
  rate: z.number(),
  polynomialV: z.array(z.number()).min(1).max(6),
});

function ocvFormTable(form: z.output<typeof ocvFormSchema>): { soc: number; v: number }[] {
  let highest = 0;
  return Array.from({ length: 101 }, (_, k) => {
    const soc = k / 100;
    const v = form.polynomialV.reduceRight((sum, c) => sum * soc + c, 0);
    highest = Math.max(highest, v + form.exponentialV * Math.exp(form.rate * soc));
    return { soc, v: highest };
  });
}

/** Open-circuit volts of one cell over state of charge, and what its chemistry permits. */
export const cellSchema = z.strictObject({
  chemistry: z.string().min(2),
  ocvSource: source,
  ocv: z
    .union([
      z
        .array(z.strictObject({ soc: share(), v: positive() }))
        .min(3)
        .max(201),
      ocvFormSchema.transform(ocvFormTable),
    ])
    .describe('a table from 0 to 1, or the coefficients of the published form'),
  capacityAh: positive(),
  r0Ohm: positive(),
  r1Ohm: positive(),
  tau1S: positive(),
  r2Ohm: nonNegative(),
  tau2S: positive(),
  /** Resistance doubles for each drop of this many kelvin below 25 °C. */
  coldDoublingK: positive(),
  overSoc: z
    .array(z.strictObject({ soc: share(), r0Ohm: positive(), r1Ohm: nonNegative(), r2Ohm: nonNegative() }))
    .min(2)
    .max(101)
    .optional()
    .describe('at 25 °C, over the state of charge; the single values above are what the checks reckon with'),
  overTemperature: z
    .array(z.strictObject({ cellC: z.number().min(-60).max(120), factor: positive() }))
    .min(2)
    .max(51)
    .optional()
    .describe('by which all resistances are multiplied, in place of coldDoublingK; 1 at 25 °C'),
  hysteresis: z
    .strictObject({
      turnsOverShare: z.number().positive().max(1).describe('of the capacity, in which it turns round'),
      over: z
        .array(z.strictObject({ soc: share(), v: nonNegative() }))
        .min(2)
        .max(101)
        .describe('half the gap between the charged and the discharged curve'),
    })
    .optional(),
  heatCapacityJPerK: positive(),
  thermalResistanceKPerW: positive().describe('cell to coolant with cooling running'),
});

export const raftSchema = z.strictObject({
  seriesCells: z.number().int().positive().max(1000),
  parallelCells: z.number().int().positive().max(1000),
  cell: cellSchema,
  /** Inside one raft: joints, bars, contactors. */
  barsOhm: nonNegative(),
  maxCurrentA: limit(positive()),
  minCellV: limit(positive()),
  /** Above this a trip; the ceiling below only tapers. */
  maxCellV: limit(positive()),
  ceilingCellV: limit(positive()),
  minChargeC: limit(z.number()),
  maxChargeC: limit(z.number()),
  derateFromC: limit(z.number()),
  maxCellSpreadV: limit(positive()),
  joinCurrentA: limit(positive()),
  minIsolationOhmPerVolt: limit(positive()),
  stringSpread: z
    .number()
    .min(0)
    .max(0.5)
    .optional()
    .describe('parallel strings differ in resistance by this share to both sides of their mean'),
  balancing: z
    .strictObject({ currentA: positive(), aboveCellV: positive() })
    .optional()
    .describe('of the strongest cells, by resistors of the management unit'),
});

export const batterySchema = z.strictObject({
  raft: raftSchema,
  rafts: z
    .array(z.strictObject({ name, kind: z.enum(['battery', 'generator']) }))
    .min(1)
    .max(MAX_RAFTS),
  /** Window of the session, state of charge. */
  floorSoc: limit(share()),
  ceilingSoc: limit(share()).describe('leaves room for regeneration'),
});

export const supplySchema = z.strictObject({
  kind: z.enum(['engine-set', 'store', 'feed']),
  maxPowerW: limit(positive()),
  /** Load slope it takes without a dip beyond its limits. */
  slopeKwPerS: limit(positive()),
  nominalVoltageV: positive(),
  minVoltageV: limit(positive()),
  /** Engine-driven sets only. */
  nominalFrequencyHz: positive().optional(),
  minFrequencyHz: limit(positive()).optional(),
  droopPercent: nonNegative().optional(),
  inertiaS: positive().optional().describe('stored energy over rated power, s'),
  governorS: positive().optional(),
  /** Below the minimum: fold back for this long, then trip. */
  recoverS: limit(positive()),
  underSpeedTripHz: positive().optional().describe('engine sets: opens the breaker'),
  fuel: z
    .strictObject({
      tankL: positive(),
      idleLPerH: nonNegative(),
      fullLPerH: positive().describe('at rated power; between idle and this it goes straight with the load'),
    })
    .optional()
    .describe('engine sets'),
  /** Stores only. */
  capacityKwh: positive().optional(),
  internalOhm: nonNegative().optional(),
  gridFeedW: nonNegative().optional().describe('stores: what the slow feed from the line adds, up to full'),
  renewable: z
    .array(z.strictObject({ hour: z.number().min(0).max(24), powerW: nonNegative() }))
    .min(2)
    .max(97)
    .optional()
    .describe('stores: what sun or wind add over the day, straight between the hours'),
});
