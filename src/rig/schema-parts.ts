/** What all parts of the rig schema are made of: limits with their source, and plain kinds of numbers. */
import { z } from 'zod';

export const source = z
  .string()
  .min(3)
  .describe('who says so: a standard and clause, a data sheet, or "practice"');
/** A number that someone vouches for; loads as the bare number. */
export const limit = (value: z.ZodNumber) =>
  z
    .strictObject({ value, source })
    .transform((l) => l.value)
    .describe('a limit with its source');
export const positive = () => z.number().positive();
export const nonNegative = () => z.number().min(0);
export const share = () => z.number().min(0).max(1);
export const name = z
  .string()
  .regex(/^[a-z0-9][a-z0-9-]{0,31}$/, 'lower case letters, digits and dashes, at most 32');
