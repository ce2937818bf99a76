/**
 * The record of a proof: one line that says what it is of, then one line a run, as each is done. It is what a proof is
 * resumed from, what shards are merged from, and what the certificate is made of.
 */
import { createHash } from 'node:crypto';
import { z } from 'zod';
import { InputError } from '../host/input-error.js';
import type { Shard } from './plan.js';
import type { StepRun } from './run-step.js';

export const RECORD_FORMAT = 'loopwarden-proof';
export const RECORD_VERSION = 1;

const headerSchema = z.strictObject({
  format: z.literal(RECORD_FORMAT),
  version: z.literal(RECORD_VERSION),
  software: z.string(),
  rig: z.string(),
  rigHash: z.string(),
  procedures: z.array(z.strictObject({ name: z.string(), hash: z.string() })),
  seed: z.number().int(),
  repeat: z.number().int().nullable(),
  step: z.string().nullable().describe('the only step that was asked for'),
  charger: z.string().describe('`simulated`, a weakness of it, or the paths of real ports'),
  runs: z.number().int().describe('of the whole proof'),
  shard: z.strictObject({ index: z.number().int(), of: z.number().int() }).nullable(),
});
export type RecordHeader = z.output<typeof headerSchema>;

export interface RunRecord extends StepRun {
  readonly index: number;
  readonly procedure: string;
  readonly step: string;
  readonly repeat: number;
  readonly seed: number;
  /** File of the journal, below the folder of the proof, and the SHA-256 of its bytes. */
  readonly journal: string;
  readonly journalHash: string;
}

export interface ProofRecord {
  readonly header: RecordHeader;
  readonly runs: readonly RunRecord[];
}

export const headerLine = (header: RecordHeader): string => `${JSON.stringify(header)}\n`;
/** Each line carries a check of itself: a verdict is not to be changed unseen by a slip of an editor. */
export function runLine(run: RunRecord): string {
  const text = JSON.stringify(run);
  return `{"check":"${checkOf(text)}","run":${text}}\n`;
}
const checkOf = (text: string): string => createHash('sha256').update(text).digest('hex').slice(0, 16);

/** @throws InputError unless it is a record; a last line that was cut off counts as not done */
export function readRecord(text: string, shown: string): ProofRecord {
  const cut = text.lastIndexOf('\n') + 1;
  const [first = '', ...rest] = text.slice(0, cut).split('\n');
  let header: unknown = null;
  try {
    header = JSON.parse(first);
  } catch {
    // Told below.
  }
  const checked = headerSchema.safeParse(header);
  if (!checked.success)
    throw new InputError(
      `${shown}: line 1 is no record of a proof; expected one written by \`prove\` of this version`,
    );
  const seen = new Set<number>();
  const runs = rest.flatMap((line, i) => {
    if (line === '') return [];
    const run = runOf(line);
    if (run === null || seen.has(run.index))
      throw new InputError(
        `${shown}: line ${i + 2} is ${run === null ? 'no run as it was written' : `run ${run.index} a second time`}; the record was changed or damaged, start the proof anew`,
      );
    seen.add(run.index);
    return [run];
  });
  return { header: checked.data, runs };
}

/** @returns null for a line that was not written like this */
function runOf(line: string): RunRecord | null {
  try {
    const { check, run } = JSON.parse(line) as { check?: unknown; run?: RunRecord };
    return run !== undefined && check === checkOf(JSON.stringify(run)) ? run : null;
  } catch {
    return null;
  }
}

/** Everything but the shard must agree. @returns what does not, in words */
export function differs(a: RecordHeader, b: RecordHeader): string | null {
  const keys = ['software', 'rig', 'rigHash', 'seed', 'repeat', 'step', 'charger', 'runs'] as const;
  for (const key of keys)
    if (a[key] !== b[key]) return `${key} is ${a[key]} in one and ${b[key]} in the other`;
  if (JSON.stringify(a.procedures) !== JSON.stringify(b.procedures)) return 'the procedures are not the same';
  return null;
}

export const sameShard = (a: Shard | null, b: Shard | null): boolean =>
  a?.index === b?.index && a?.of === b?.of;
