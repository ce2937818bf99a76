/**
 * An exercise for a team at a simulated charger: how the train stands, what goes wrong without their knowing, what must
 * be seen for it to count as done, and what to talk about afterwards. Reading the file is exercise-load.ts's job.
 */
import { z } from 'zod';
import { injectionSchema, startSchema } from '../../simulators/scenario.js';
import { CODES } from '../checks/catalogue.js';
import { PHASES } from '../rig/roles.js';

const kebab = z.string().regex(/^[a-z0-9][a-z0-9-]{0,47}$/, 'lower case letters, digits and dashes');
const words = z.string().min(3);
const code = z.enum(CODES);
const order = z.enum([
  'start',
  'stop',
  'trip-now',
  'acknowledge',
  'free-plug',
  'limit-current',
  'sample-pilot',
]);

/** One thing to be seen. */
const seenSchema = z.discriminatedUnion('see', [
  z.strictObject({ see: z.literal('phase'), phase: z.enum(PHASES) }),
  z.strictObject({ see: z.literal('finding'), code }),
  z.strictObject({
    see: z.literal('tripped'),
    codes: z.array(code).min(1).max(8).optional().describe('any of these; any at all when absent'),
    phase: z.enum(PHASES).optional(),
  }),
  z.strictObject({
    see: z.literal('refused'),
    order: order.optional(),
    codes: z.array(code).min(1).max(8).optional(),
  }),
  z.strictObject({ see: z.literal('ordered'), order }),
  z.strictObject({ see: z.literal('bound'), limit: words.describe('name of the limit that governs') }),
  z.strictObject({
    see: z.literal('ended'),
    outcome: z.enum(['released', 'tripped', 'refused']),
    exit: z.number().int().min(0).max(9).optional(),
    endReason: kebab.optional(),
  }),
  z.strictObject({ see: z.literal('acknowledged') }),
  z.strictObject({ see: z.literal('plug-freed') }),
  z.strictObject({
    see: z.literal('handed-over').describe('somebody else orders than who ordered first'),
  }),
  z.strictObject({
    see: z
      .literal('energised-after-trip')
      .describe('a session goes on to where something is live before the trip was acknowledged'),
  }),
]);
export type Seen = z.output<typeof seenSchema>;

export const exerciseSchema = z.strictObject({
  name: kebab,
  title: words,
  goal: words.describe('what the team is asked to do, in a sentence or two; says nothing of what goes wrong'),
  connection: z.enum(['cable', 'shoes']).describe('of the rigs it suits'),
  rigs: z
    .array(kebab)
    .min(1)
    .max(20)
    .optional()
    .describe('only these; every rig of that connection when absent'),
  seed: z.number().int().min(0).max(0xffffffff),
  start: startSchema.default({}),
  inject: z
    .array(injectionSchema)
    .max(8)
    .default([])
    .describe('hidden until the debrief; made when a session next enters the phase'),
  see: z.array(seenSchema).min(1).max(12).describe('in this order, whatever else comes between'),
  never: z.array(seenSchema).max(8).default([]).describe('any of these and it is not reached'),
  withinMin: z.number().positive().max(240).describe('of session time, pauses between sessions not counted'),
  debrief: words.describe('what to have seen, and what to talk about'),
});
export type Exercise = z.output<typeof exerciseSchema>;

/** For editors. */
export function exerciseJsonSchema(): Record<string, unknown> {
  const { $schema, ...whole } = z.toJSONSchema(exerciseSchema, { io: 'input' });
  return {
    $schema,
    title: 'loopwarden exercise',
    description:
      'Live DC kills. An exercise is for the simulated charger alone; nothing in it is fit for a real one.',
    ...whole,
  };
}

const orderOf = (asked: string | undefined): string =>
  asked === undefined ? 'an order' : `the order ${asked}`;
const codesOf = (codes: readonly string[] | undefined): string =>
  codes === undefined ? '' : ` by ${codes.join(' or ')}`;

/** What is to be seen, for people. */
export function wordsOf(seen: Seen): string {
  switch (seen.see) {
    case 'phase':
      return `the phase ${seen.phase}`;
    case 'finding':
      return `the finding ${seen.code}`;
    case 'tripped':
      return `a trip${codesOf(seen.codes)}${seen.phase === undefined ? '' : ` in ${seen.phase}`}`;
    case 'refused':
      return `${orderOf(seen.order)} refused${codesOf(seen.codes)}`;
    case 'ordered':
      return orderOf(seen.order);
    case 'bound':
      return `the limit ${seen.limit} governing the current`;
    case 'ended': {
      const more = [
        ...(seen.endReason === undefined ? [] : [`end reason ${seen.endReason}`]),
        ...(seen.exit === undefined ? [] : [`exit ${seen.exit}`]),
      ];
      return `a session that ended ${seen.outcome}${more.length === 0 ? '' : ` (${more.join(', ')})`}`;
    }
    case 'acknowledged':
      return 'the trip acknowledged';
    case 'plug-freed':
      return 'the plug freed by an order of its own';
    case 'handed-over':
      return 'an order by somebody else than who ordered first';
    case 'energised-after-trip':
      return 'something live before the trip was acknowledged';
  }
}
