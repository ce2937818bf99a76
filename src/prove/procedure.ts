/**
 * A procedure: what is to be proven of a charger, step by step. Each step names the protection under proof and who
 * must act, makes one fault, and says what must be seen and within which limit. Units are in the keys; every limit
 * has a source, or is a figure of the rig and has the source that stands there.
 */
import { z } from 'zod';
import { injectionSchema, startSchema, wishSchema } from '../../simulators/scenario.js';
import { CODES } from '../checks/catalogue.js';
import { HARD_WIRED, type HardWiredRelay } from '../link/frames.js';
import { PHASES } from '../rig/roles.js';
import { MAX_OBSERVING_MS } from '../supervisor/observing.js';
import { EVENTS, FIGURES } from './vocabulary.js';

const kebab = z.string().regex(/^[a-z0-9][a-z0-9-]{0,47}$/, 'lower case letters, digits and dashes');
const words = z.string().min(3);
const code = z.enum(CODES);

/** A figure of the rig, or the product of two, times a factor. */
const rigFigureSchema = z.strictObject({
  rig: z.string().describe('dotted path of a figure of the rig'),
  by: z.string().optional().describe('dotted path of a second one it is multiplied by'),
  times: z.number().default(1),
  plus: z.number().default(0),
});
export type RigFigure = z.output<typeof rigFigureSchema>;

/** A figure with its source, or one of the rig, which has its own there. */
const limitSchema = z.union([
  z.strictObject({ value: z.number(), source: words }),
  rigFigureSchema.extend({
    source: words.optional().describe('where the factor or the addition comes from'),
  }),
]);
export type Limit = z.output<typeof limitSchema>;

const timeSchema = z.strictObject({
  time: z.enum(EVENTS).describe('what must be seen'),
  from: z.enum(EVENTS).default('mark').describe('counted from'),
  withinMs: limitSchema,
  notBeforeMs: limitSchema
    .optional()
    .describe('earlier shows a setting that is off, though on the safe side'),
});
const figureSchema = z
  .strictObject({
    figure: z.enum(FIGURES),
    atMost: limitSchema.optional(),
    atLeast: limitSchema.optional(),
  })
  .refine((s) => s.atMost !== undefined || s.atLeast !== undefined, 'needs atMost, atLeast or both');
export type Seen = z.output<typeof timeSchema> | z.output<typeof figureSchema>;

/** What a person does where no simulator and no fault box can: asked for, confirmed by typing, with its caution. */
const handSchema = z.strictObject({
  ask: words.describe('what to do'),
  confirm: z.string().min(2).max(20).describe('word to be typed when all stand clear and it may be done'),
  caution: words,
});

export const stepSchema = z
  .strictObject({
    step: kebab,
    title: words,
    protection: z.strictObject({
      name: words,
      by: z
        .enum(['hard-wired', 'device', 'supervisor', 'regulation'])
        .describe(
          'who must act first: a relay, the device by its firmware, or an order of the supervisor; regulation holds a figure, nobody need act',
        ),
      relay: z
        .enum(Object.keys(HARD_WIRED) as [HardWiredRelay, ...HardWiredRelay[]])
        .optional()
        .describe('which one, where a hard-wired one must act: another proves nothing of it'),
      evidence: words.describe('what shows that it did: a relay contact, coil feedback, a breaker'),
    }),
    start: startSchema.default({}),
    wish: wishSchema,
    inject: z
      .array(
        z.strictObject({
          ...injectionSchema.shape,
          magnitude: z
            .union([z.number(), rigFigureSchema])
            .optional()
            .describe('unit and default: see the table of faults'),
          hand: handSchema.optional(),
        }),
      )
      .max(4)
      .default([]),
    orders: z
      .array(
        z.strictObject({
          order: z.enum(['start', 'stop', 'trip-now', 'free-plug']),
          phase: z.enum(PHASES),
          afterS: z.number().min(0).max(600).default(0),
        }),
      )
      .max(4)
      .default([]),
    powerLoss: z
      .strictObject({ phase: z.enum(PHASES), afterS: z.number().min(0).max(600).default(0) })
      .optional()
      .describe(
        'the machine of the supervisor loses its power here; `ends` and figures are those of the next start',
      ),
    observe: z
      .strictObject({
        codes: z.array(code).min(1).max(12),
        forMs: z.number().positive().max(MAX_OBSERVING_MS),
      })
      .optional()
      .describe('findings that must leave a hard-wired protection the time to act'),
    ends: z.strictObject({
      outcome: z.enum(['released', 'tripped', 'refused']),
      exit: z.number().int().min(0).max(9),
      codes: z
        .array(z.string().min(1))
        .min(1)
        .optional()
        .describe('any of these as the first-out or the end reason'),
      phase: z.enum(PHASES).optional(),
    }),
    see: z
      .array(z.union([timeSchema, figureSchema]))
      .min(1)
      .max(12),
    repeat: z.number().int().min(1).max(1000).default(3),
    needs: z
      .array(z.enum(['cable', 'shoes', 'precharge']))
      .default([])
      .describe('not applicable to a rig without it'),
  })
  .refine(
    (s) => (s.observe === undefined) === (s.protection.by !== 'hard-wired'),
    'a hard-wired protection needs `observe`, and nothing else may have it',
  )
  .refine(
    (s) => s.inject.filter(({ phase }) => phase !== 'start').length <= 1,
    'only one fault can be timed: the others must be there from the start',
  )
  .refine(
    (s) => (s.protection.relay !== undefined) === (s.protection.by === 'hard-wired'),
    'a hard-wired protection needs `relay`, and nothing else may have it',
  );
export type Step = z.output<typeof stepSchema>;

export const procedureSchema = z.strictObject({
  name: kebab,
  title: words,
  why: words.describe('what would happen to people or equipment without this protection'),
  before: z.array(words).default([]).describe('what a person makes sure of before the first step'),
  steps: z.array(stepSchema).min(1).max(40),
});
export type Procedure = z.output<typeof procedureSchema>;
