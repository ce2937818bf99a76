/** One session of a storm, as data: everything that was drawn, so that one line brings it back. */
import { z } from 'zod';
import {
  injectionSchema,
  type Scenario,
  scenarioOrderSchema,
  startSchema,
  wishSchema,
} from '../../simulators/scenario.js';
import { InputError } from '../host/input-error.js';

const MAX_SEED = 0xffffffff;

export const stormCaseSchema = z.strictObject({
  /** Rig that comes with the package. */
  base: z.string().min(1).max(40),
  /** Figures of it that are changed, by dotted path. */
  set: z.record(z.string(), z.number()).default({}),
  /** What is asked of the supervisor first. */
  first: z.enum(['start', 'acknowledge', 'free-plug']).default('start'),
  seed: z.number().int().min(0).max(MAX_SEED),
  start: startSchema.default({}),
  wish: wishSchema.default({}),
  inject: z.array(injectionSchema).max(8).default([]),
  orders: z.array(scenarioOrderSchema).max(8).default([]),
});
export type StormCase = z.output<typeof stormCaseSchema>;

export const scenarioOf = ({ seed, start, wish, inject, orders }: StormCase): VirtualScenario => ({
  seed,
  start,
  wish,
  inject,
  orders,
});
type VirtualScenario = Pick<Scenario, 'seed' | 'start' | 'wish' | 'inject' | 'orders'>;

/** @throws InputError when the line is not one that a storm printed */
export function parseCase(line: string): StormCase {
  let data: unknown;
  try {
    data = JSON.parse(line);
  } catch {
    throw new InputError(`--reproduce: not JSON; expected the line a storm printed, in quotes`);
  }
  const parsed = stormCaseSchema.safeParse(data);
  if (parsed.success) return parsed.data;
  const [issue] = parsed.error.issues;
  throw new InputError(`--reproduce: ${issue?.path.join('.') || 'the case'}: ${issue?.message}`);
}
