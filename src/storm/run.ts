/** Runs one session of a storm and holds it against every invariant, by its journal and by the truth of the bench. */
import { createHash } from 'node:crypto';
import { tellBreach } from '../audit/judge.js';
import { filesInMemory } from '../host/durable-file.js';
import { placeless } from '../host/files.js';
import { runJudged } from '../rehearsal/judged-run.js';
import { type StormCase, scenarioOf } from './case.js';
import { variant } from './rigs.js';

export interface StormResult {
  /** What was broken, by id and in words; empty when all is well. */
  readonly broken: readonly { readonly id: string; readonly text: string }[];
  readonly exit: number;
  /** Codes of trips, refusals and findings that appeared. */
  readonly codes: readonly string[];
  /** Code of the trip, or the reason of the end. */
  readonly ended: string;
  readonly virtualS: number;
  /** SHA-256, hex, over outcome and truth. */
  readonly digest: string;
}

export async function runCase(drawn: StormCase): Promise<StormResult> {
  const run = await runJudged({
    loaded: variant(drawn.base, drawn.set),
    scenario: scenarioOf(drawn),
    order: drawn.first,
    stateDir: 'storm',
    latchFiles: filesInMemory(),
  });
  const { outcome, exit, truth, breaches, fault, bench } = run;
  const broken = breaches.map((b) => ({ id: b.id as string, text: tellBreach(b) }));
  if (fault !== null) broken.push({ id: 'fault', text: placeless(fault.stack ?? fault.message) });
  const codes = [
    ...(outcome.trip === null ? [] : [outcome.trip.code]),
    ...outcome.refusals.map((r) => r.code),
    ...outcome.findings.map((f) => f.code),
  ];
  return {
    broken,
    exit,
    codes: [...new Set(codes)],
    ended: outcome.trip?.code ?? outcome.endReason,
    virtualS: bench.nowMs / 1000,
    digest: createHash('sha256').update(JSON.stringify({ outcome, truth })).digest('hex'),
  };
}
