/**
 * What a plan expects of a session. It is written down with the setup and decides nothing: the session is asked for
 * by its wish, and whoever audits it sees beside each other what was planned and what came.
 */
import { z } from 'zod';

const expected = z.strictObject({ planned: z.number(), low: z.number(), high: z.number() });

export const plannedSchema = z.strictObject({
  /** SHA-256, hex, of the plan's file. */
  plan: z.string().regex(/^[0-9a-f]{64}$/),
  energyKwh: expected,
  socEnd: expected,
  durationS: expected,
});
export type Planned = z.output<typeof plannedSchema>;
export type Expected = z.output<typeof expected>;

/** A plan as `plan stop --out` writes it and a session takes it up. */
export const planFileSchema = z.strictObject({
  plan: z.literal('stop'),
  version: z.literal(1),
  rig: z.string(),
  rigHash: z.string().regex(/^[0-9a-f]{64}$/),
  wish: z.strictObject({
    targetSoc: z.number().min(0).max(1).nullable(),
    targetEnergyKwh: z.number().positive().nullable(),
    maxS: z.number().positive(),
  }),
  expects: plannedSchema.omit({ plan: true }),
});
export type PlanFile = z.output<typeof planFileSchema>;

/** @returns null where there is none, or it is not as it is written */
export function plannedOf(setup: unknown): Planned | null {
  const read = plannedSchema.safeParse((setup as { planned?: unknown } | null)?.planned);
  return read.success ? read.data : null;
}
