/** What the sessions of a storm came to, as lines of a result file. */
import { z } from 'zod';
import type { CampaignKind, NumberedCase } from '../campaign/results.js';
import { type StormCase, stormCaseSchema } from './case.js';
import { drawCase } from './draw.js';
import type { StormResult } from './run.js';
import { type Shrunk, shrink } from './shrink.js';

/** Failures that are made small and told in full; the rest are counted. */
const TOLD_IN_FULL = 3;

export interface SmallFailure {
  readonly case: StormCase;
  readonly broken: StormResult['broken'];
}

export interface NumberedResult extends NumberedCase, StormResult {
  /** Of the first failures: the least that breaks the same. */
  readonly small?: SmallFailure;
}

const brokenSchema = z.array(z.strictObject({ id: z.string(), text: z.string() }));
const code = z.string().regex(/^[a-z0-9-]+$/);

export const STORM_KIND: CampaignKind<NumberedResult> = {
  kind: 'storm',
  caseSchema: z.strictObject({
    index: z.number().int().min(0),
    exit: z.number().int().min(0).max(255),
    ended: code,
    codes: z.array(code),
    virtualS: z.number().min(0),
    broken: brokenSchema,
    digest: z.string().regex(/^[0-9a-f]{64}$/),
    small: z.strictObject({ case: stormCaseSchema, broken: brokenSchema }).optional(),
  }),
  /** The first failures of the whole are among the first of each part. */
  settle(cases) {
    let told = 0;
    return cases.map((each) => {
      if (each.small === undefined || told++ < TOLD_IN_FULL) return each;
      const { small: _, ...rest } = each;
      return rest;
    });
  },
};

/** With its keys in the order in which they are written. */
export const numbered = (index: number, result: StormResult): NumberedResult => ({
  index,
  exit: result.exit,
  ended: result.ended,
  codes: result.codes,
  virtualS: result.virtualS,
  broken: result.broken,
  digest: result.digest,
});

/** @param seed of the storm */
export const makeSmall = (result: NumberedResult, seed: number): Promise<Shrunk> =>
  shrink(drawCase(seed, result.index), result);

/** The same results, with the first failures made small. */
export async function withSmallFailures(
  results: readonly NumberedResult[],
  seed: number,
  make = makeSmall,
): Promise<NumberedResult[]> {
  const out = [...results];
  let told = 0;
  for (const [i, result] of results.entries()) {
    if (result.broken.length === 0) continue;
    if (told++ >= TOLD_IN_FULL) break;
    const { small, result: shrunk } = await make(result, seed);
    out[i] = { ...result, small: { case: small, broken: shrunk.broken } };
  }
  return out;
}
