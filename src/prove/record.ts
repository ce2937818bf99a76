/**
 * The record of a proof: one line that says what it is of, then one line a run, as each is done. It is what a proof is
 * resumed from, what shards are merged from, and what the certificate is made of.
 */
import { createHash } from 'node:crypto';
import path from 'node:path';
import { z } from 'zod';
import type { CampaignKind, NumberedCase, ResultsHeader } from '../campaign/results.js';
import { InputError } from '../host/input-error.js';
import type { PlannedRun } from './plan.js';
import type { StepRun } from './run-step.js';

/** What a proof is of, beside what every campaign says of itself. */
const ownSchema = z.looseObject({
  rig: z.string(),
  rigHash: z.string(),
  procedures: z.array(z.strictObject({ name: z.string(), hash: z.string() })),
  repeat: z.number().int().nullable(),
  step: z.string().nullable(),
  charger: z.string().describe('`simulated`, a weakness of it, or the paths of real ports'),
});
export interface ProofHeader extends ResultsHeader {
  readonly rig: string;
  readonly rigHash: string;
  readonly procedures: readonly { readonly name: string; readonly hash: string }[];
  /** Of every step; each step's own number where null. */
  readonly repeat: number | null;
  /** The only step that was asked for; null: all. */
  readonly step: string | null;
  readonly charger: string;
}

export interface RunRecord extends StepRun, NumberedCase {
  readonly procedure: string;
  readonly step: string;
  readonly repeat: number;
  readonly seed: number;
  /** File of the journal, below the folder of the proof, and the SHA-256 of its bytes. */
  readonly journal: string;
  readonly journalHash: string;
}

export interface ProofRecord {
  readonly header: ProofHeader;
  readonly runs: readonly RunRecord[];
}

const verdict = z.enum(['pass', 'fail', 'inconclusive', 'not-applicable']);
export const PROVE_KIND: CampaignKind<RunRecord> = {
  kind: 'prove',
  // The figures of a run are held against nothing here: they were judged when they were measured.
  caseSchema: z.looseObject({
    index: z.number().int().min(0),
    procedure: z.string(),
    step: z.string(),
    repeat: z.number().int(),
    seed: z.number().int(),
    journal: z.string(),
    journalHash: z.string().regex(/^[0-9a-f]{64}$/),
    verdict,
    measures: z.array(z.looseObject({ name: z.string(), verdict })),
  }),
  settle: (runs) => runs,
};

export const headerLine = (header: ProofHeader): string => `${JSON.stringify(header)}\n`;
/** Each line carries a check of itself: a verdict is not to be changed unseen by a slip of an editor. */
export function runLine(run: RunRecord): string {
  const text = JSON.stringify(run);
  return `{"check":"${checkOf(text)}","run":${text}}\n`;
}
const checkOf = (text: string): string => createHash('sha256').update(text).digest('hex').slice(0, 16);

/** @returns null for a line that was not written like this */
function runOf(line: string): RunRecord | null {
  try {
    const { check, run } = JSON.parse(line) as { check?: unknown; run?: RunRecord };
    return run !== undefined && check === checkOf(JSON.stringify(run)) ? run : null;
  } catch {
    return null;
  }
}

/** What was done so far. @throws InputError unless it is that; a last line that was cut off counts as not done */
export function readPart(text: string, shown: string): ProofRecord {
  const cut = text.lastIndexOf('\n') + 1;
  const [first = '', ...rest] = text.slice(0, cut).split('\n');
  let header: unknown = null;
  try {
    header = JSON.parse(first);
  } catch {
    // Told below.
  }
  if (!ownSchema.safeParse(header).success)
    throw new InputError(
      `${shown}: line 1 is no begun proof; expected one written by \`prove\` of this version`,
    );
  const seen = new Set<number>();
  const runs = rest.flatMap((line, i) => {
    if (line === '') return [];
    const run = runOf(line);
    if (run === null || seen.has(run.index))
      throw new InputError(
        `${shown}: line ${i + 2} is ${run === null ? 'no run as it was written' : `run ${run.index} a second time`}; the file was changed or damaged, start the proof anew`,
      );
    seen.add(run.index);
    return [run];
  });
  return { header: header as ProofHeader, runs };
}

/** @returns what keeps two proofs apart, in words; null when it is one */
export function differs(a: ProofHeader, b: ProofHeader): string | null {
  for (const key of Object.keys(b) as (keyof ProofHeader)[]) {
    const [here, there] = [JSON.stringify(a[key]), JSON.stringify(b[key])];
    if (here !== there) return `${key} is ${here} there and ${there} now`;
  }
  return null;
}

/** Below the folder of the proof. */
export const journalName = ({ procedure, step, repeat }: PlannedRun): string =>
  path.posix.join('journals', `${procedure}.${step.step}.${String(repeat).padStart(3, '0')}.ndjson`);

/** @param journal the bytes of the file, as text */
export function recordOf(run: PlannedRun, file: string, journal: string, result: StepRun): RunRecord {
  const { index, procedure, repeat, seed } = run;
  const journalHash = createHash('sha256').update(journal).digest('hex');
  return { index, procedure, step: run.step.step, repeat, seed, journal: file, journalHash, ...result };
}
