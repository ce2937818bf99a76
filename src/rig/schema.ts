/**
 * The rig: everything the supervisor must know about charger, cable, train and supply.
 *
 * Units are in the keys. A *limit* is written `{ value, source }`: who says so. After loading a limit is
 * its number; the sources are kept beside it by path (`LoadedRig.sources`). Nothing here is a safety
 * function, and every limit must be confirmed by a competent person.
 */
import { z } from 'zod';
import { ASSIGNABLE_ROLES } from './roles.js';
import { batterySchema, supplySchema } from './schema-battery.js';
import { limit, name, nonNegative, positive, share } from './schema-parts.js';

export const converterSchema = z.strictObject({
  maxCurrentA: limit(positive()),
  maxVoltageV: limit(positive()),
  minVoltageV: limit(nonNegative()),
  maxPowerW: limit(positive()),
  /** Output capacitor. */
  capacitanceF: positive(),
  /** Can raise its output to the train voltage by itself; otherwise the rig pre-charges. */
  matchesVoltage: z.boolean(),
  /** Slope of the output voltage while matching. */
  voltageSlopeVPerS: positive(),
  /** Current limit while matching and probing. */
  matchCurrentA: positive(),
  /** Time constant of the current loop, for the budget and the simulator. */
  currentLoopMs: positive(),
  ripplePercent: nonNegative(),
  noLoadLossW: nonNegative(),
  lossVoltsPerA: nonNegative().describe('conduction loss in volts (W per A of output)'),
  /** Allowed |measured − set| while steady: max of both. */
  trackingPercent: limit(positive()),
  trackingFloorA: limit(positive()),
  /** Time the current may take to settle on a new set-point before tracking counts. */
  trackingSettleMs: limit(positive()),
  /** Over the set-point: trip. Below it (but above tracking) a note. */
  overshootPercent: limit(positive()),
});

export const rampSchema = z.strictObject({
  upAPerS: limit(positive()),
  downAPerS: limit(positive()),
  emergencyDownAPerS: limit(positive()),
  holdPointShare: limit(share()).describe(
    'share of the rated current at which isolation and contact drop are looked at again',
  ),
  holdPointS: limit(positive()),
  /** Measured slope above the governed slope times this trips. */
  steepFactor: limit(z.number().min(1)),
  /** A session that can only get less than this is over. */
  endCurrentA: limit(positive()),
});

const conductorMm2 = z.literal([35, 50, 70, 95, 120, 150, 185, 240, 300]);

export const connectionSchema = z.strictObject({
  kind: z.enum(['cable', 'shoes']),
  /** What plug and cable, or shoes and plates, are rated for. */
  ratedCurrentA: limit(positive()),
  cable: z.strictObject({
    mm2: conductorMm2.describe('class 5 copper, cross-section of one core'),
    lengthM: positive().describe('one way'),
    coresPerPole: z.union([z.literal(1), z.literal(2)]),
    insulation: z.enum(['pvc', 'rubber-85', 'epr-xlpe']),
    ambientC: z.number().min(-40).max(70).describe('design ambient for the rating'),
    drumLayers: z.number().int().min(0).max(4),
    maxConductorC: limit(positive()),
    derateFromC: limit(positive()),
    /** Heating of the conductor above ambient at the rated current, steady. */
    thermalResistanceKPerW: positive().describe('K per W of the whole run of both poles'),
    thermalTimeConstantS: positive(),
    capacitanceF: positive().describe('pole to pole, cable and plug filter'),
  }),
  contact: z.strictObject({
    resistanceOhm: positive().describe('one contact, new; there are two in the loop'),
    maxDropV: limit(positive()).describe('across one contact'),
    maxC: limit(positive()),
    derateFromC: limit(positive()),
    thermalResistanceKPerW: positive(),
    thermalTimeConstantS: positive(),
  }),
});

export const pilotSchema = z.strictObject({
  sourceVrms: positive(),
  sourceOhm: positive(),
  frequencyHz: positive(),
  coreOhm: nonNegative().describe('pilot core and its return, new'),
  diodeDropV: nonNegative(),
  samplesPerPeriod: z.number().int().min(8).max(400),
  periodsPerWindow: z.number().int().min(1).max(64),
  maxSeriesOhm: limit(positive()),
  /** Below: leaky, trip. */
  minShuntOhm: limit(positive()),
  /** Between minShuntOhm and this nothing is called genuine. */
  genuineShuntOhm: limit(positive()),
});

export const isolationSchema = z.strictObject({
  /** What the limit applies to. */
  figure: z.enum(['lower-pole', 'parallel']),
  minOhmPerVolt: limit(positive()),
  warnOhmPerVolt: limit(positive()),
  workingVoltageV: limit(positive()),
  joinedToAcSide: z
    .boolean()
    .describe('true when the DC network is conductively joined to the AC side in charging'),
  knownOhm: positive(),
  meterOhm: positive().describe('of each pole voltmeter to chassis'),
  injectionV: z.number().positive().max(60),
  injectionOhm: positive().describe('one per pole'),
  /** A whole proof, start to verdict. */
  checkMaxS: limit(z.number().positive().max(10)),
  /** Repetition of the whole measurement while live. */
  everyS: limit(positive()),
  maxStoredJ: limit(positive()),
  /** Nominal leakage and capacitance of each pole to chassis, new. */
  network: z.strictObject({
    chargerOhm: positive(),
    chargerF: positive(),
    cableOhm: positive(),
    cableF: positive(),
    trainOhm: positive(),
    trainF: positive(),
  }),
});

export const contactorSchema = z.strictObject({
  closeMs: limit(positive()),
  openMs: limit(positive()),
  /** Routine opening only below this. */
  routineBreakA: limit(positive()),
  /** Above this a contactor must not open: the supply breaker is tripped instead. */
  breakingCapacityA: limit(positive()),
  matchV: limit(positive()).describe('largest |outputV − trainV| for closing'),
  /** After closing the converter limit is raised by this; the output must stay on the train voltage. */
  probeV: limit(positive()),
  /** Largest |outputV − plugV| across two closed poles. */
  closedDropV: limit(positive()),
});

export const prechargeSchema = z.strictObject({
  resistorOhm: positive(),
  maxS: limit(positive()),
  side: z.literal('train').describe('which side feeds the pre-charge: with a pack on it, the train'),
});

export const bleederSchema = z.strictObject({
  outputOhm: positive(),
  plugOhm: positive(),
  maxOnS: limit(positive()),
  maxEnergyJ: limit(positive()),
  /** Dead is below this, pole to pole and each pole to chassis. */
  safeV: limit(z.number().positive().max(60)),
  deadWithinS: limit(positive()),
});

export const berthSchema = z.strictObject({ maxBondOhm: limit(positive()) });

const assignable = z.union([z.enum(ASSIGNABLE_ROLES), z.string().regex(/^raft[1-8]$/)]);
export const linkSchema = z.strictObject({
  periodMs: z.number().int().min(10).max(500),
  deviceWatchdogMs: limit(z.number().int().positive()),
  silenceMs: limit(z.number().int().positive().max(1000)),
  answerMs: limit(z.number().int().positive()),
  /** Age limits of readings. */
  fastReadingMs: limit(z.number().int().positive()),
  slowReadingMs: limit(z.number().int().positive()),
  authorityLifeMs: limit(z.number().int().positive()),
  maxLoadPercent: limit(z.number().positive().max(60)),
  ports: z
    .array(
      z.strictObject({
        name,
        baud: z.literal([9600, 19200, 38400, 57600, 115200, 230400, 460800, 921600]),
        roles: z.array(assignable).min(1).describe('roles this port serves; `raft` means every raft'),
        instrument: z
          .string()
          .min(1)
          .optional()
          .describe('command map of the instrument behind this port, relative to this file'),
        pollMs: z
          .number()
          .int()
          .min(10)
          .max(500)
          .optional()
          .describe('with an instrument: it is asked for new readings this often'),
      }),
    )
    .min(1)
    .max(8),
});

/** How long a phase may take before it trips. */
export const timesSchema = z.strictObject({
  securingS: limit(positive()),
  presenceS: limit(positive()),
  isolationS: limit(positive()),
  joiningS: limit(positive()),
  matchingS: limit(positive()),
  closingS: limit(positive()),
  rampingS: limit(positive()),
  rampingDownS: limit(positive()),
  openingS: limit(positive()),
  partingS: limit(positive()),
  bleedingS: limit(positive()),
  makingSafeS: limit(positive()),
  acknowledgeFrom: z.enum(['charger']).default('charger'),
});

/** What each protection must achieve from cause to current off; the loader refuses a rig that cannot. */
export const tripTimesSchema = z.strictObject({
  loopMs: limit(positive()),
  isolationMs: limit(positive()),
  overCurrentMs: limit(positive()),
  reverseCurrentMs: limit(positive()),
  overVoltageMs: limit(positive()),
  cellMs: limit(positive()),
  silenceMs: limit(positive()),
  stopChainMs: limit(positive()),
});

export const plausibilitySchema = z.strictObject({
  /** Meter against converter, and sum of rafts against meter: larger of both. */
  currentPercent: limit(positive()),
  currentFloorA: limit(positive()),
  voltageV: limit(positive()),
  debounceMs: limit(nonNegative()),
});

export const journalSchema = z.strictObject({
  maxLagMs: limit(positive()),
});

export const rigSchema = z.strictObject({
  name,
  title: z.string().min(3),
  note: z.string().optional(),
  converter: converterSchema,
  ramp: rampSchema,
  connection: connectionSchema,
  pilot: pilotSchema.optional().describe('cable rigs: the pilot loop'),
  isolation: isolationSchema,
  precharge: prechargeSchema.optional().describe('needed when the converter cannot match by itself'),
  contactors: contactorSchema,
  bleeder: bleederSchema,
  berth: berthSchema,
  battery: batterySchema,
  supply: supplySchema,
  plausibility: plausibilitySchema,
  journal: journalSchema,
  times: timesSchema,
  tripTimes: tripTimesSchema,
  link: linkSchema,
  acknowledge: z
    .strictObject({ from: z.enum(['charger', 'page']) })
    .optional()
    .describe(
      "from where a page may acknowledge a trip: on the charger's own machine alone, which is so when absent, or from any",
    ),
});

type DeepReadonly<T> = T extends (infer U)[]
  ? readonly DeepReadonly<U>[]
  : T extends object
    ? { readonly [K in keyof T]: DeepReadonly<T[K]> }
    : T;

/** A rig as the checks see it: plain numbers in the unit of the key, frozen. */
export type Rig = DeepReadonly<z.output<typeof rigSchema>>;
/** A rig as written in YAML. */
export type RigFile = z.input<typeof rigSchema>;
