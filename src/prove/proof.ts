/** What all runs of a proof come to: for each step its figures, who acted first, deviations, and the verdict. */

import type { LoadedRig } from '../rig/load.js';
import type { Measure } from './evaluate.js';
import { applies, type LoadedProcedure } from './load.js';
import type { Step } from './procedure.js';
import type { ProofHeader, ProofRecord, RunRecord } from './record.js';
import type { Trace } from './trace.js';
import { type Spread, spread, type Verdict, worstOf } from './verdict.js';

export interface MeasureResult {
  readonly name: string;
  readonly unit: string;
  readonly atMost: number | null;
  readonly atLeast: number | null;
  readonly source: string;
  /** null: never seen. */
  readonly spread: Spread | null;
  /** What the measuring itself adds on the side of the limit, at most; null where nothing bounds it. */
  readonly uncertainty: number | null;
  /** null: not seen, or not bounded. The value with its uncertainty that lies nearest to its limit or beyond. */
  readonly worst: number | null;
  /** Where that stands: journal and number of the record. */
  readonly journal: string;
  readonly n: number;
  readonly verdict: Verdict;
  /** Of every run, null where it was not seen, with the record it rests on. */
  readonly values: readonly {
    readonly repeat: number;
    readonly value: number | null;
    readonly n: number;
  }[];
}

export interface StepResult {
  readonly step: string;
  readonly title: string;
  readonly protection: Step['protection'];
  readonly runs: number;
  readonly verdict: Verdict;
  readonly measures: readonly MeasureResult[];
  /** How often each acted first, in words. */
  readonly first: Readonly<Record<string, number>>;
  readonly deviations: readonly {
    readonly text: string;
    readonly repeat: number;
    readonly journal: string;
  }[];
  /** Beyond those told. */
  readonly moreDeviations: number;
  /** Of the run with the worst verdict, the first among equals; null where none was made. */
  readonly trace: (Trace & { readonly repeat: number; readonly journal: string }) | null;
  readonly journals: readonly {
    readonly repeat: number;
    readonly file: string;
    readonly sha256: string;
  }[];
}

export interface ProcedureResult {
  readonly name: string;
  readonly title: string;
  readonly why: string;
  readonly hash: string;
  readonly verdict: Verdict;
  readonly steps: readonly StepResult[];
}

/** One device as it told of itself; another one on the same port, or itself otherwise, stands beside it. */
export interface Equipment {
  /** Of the rig, from 0. */
  readonly port: number;
  readonly model: string;
  readonly serial: string;
  readonly firmware: string;
  /** yyyymmdd, as the device says. */
  readonly calibratedOn: number;
  /** In which it answered so. */
  readonly runs: number;
}

export interface Proof {
  readonly header: ProofHeader;
  readonly title: string;
  readonly equipment: readonly Equipment[];
  readonly verdict: Verdict;
  /** Runs that are still to be done. */
  readonly missing: number;
  readonly procedures: readonly ProcedureResult[];
}

/** More deviations of one step say nothing new. */
const MOST_DEVIATIONS = 20;

export function proofOf(
  { header, runs }: ProofRecord,
  procedures: readonly LoadedProcedure[],
  loaded: LoadedRig,
): Proof {
  const inOrder = [...runs].sort((a, b) => a.index - b.index);
  const results = procedures.map(({ procedure, hash }): ProcedureResult => {
    const steps = procedure.steps.map((step) =>
      stepResult(
        step,
        inOrder.filter((r) => r.procedure === procedure.name && r.step === step.step),
        applies(step, loaded),
      ),
    );
    const { name, title, why } = procedure;
    return { name, title, why, hash, verdict: worstOf(steps.map((s) => s.verdict)), steps };
  });
  const missing = header.cases - inOrder.length;
  const verdict = worstOf([
    ...results.map((r) => r.verdict),
    missing > 0 ? 'inconclusive' : 'not-applicable',
  ]);
  return {
    header,
    title: loaded.rig.title,
    equipment: equipmentOf(inOrder),
    verdict,
    missing,
    procedures: results,
  };
}

function equipmentOf(runs: readonly RunRecord[]): Equipment[] {
  const found = new Map<string, Equipment>();
  for (const { devices } of runs) {
    const here = new Map(
      devices.map(({ port, model, serial, firmware, calibratedOn }) => {
        const identity = { port, model, serial, firmware, calibratedOn };
        return [JSON.stringify(identity), identity];
      }),
    );
    // One that answers twice in a session is one device.
    for (const [key, identity] of here)
      found.set(key, { ...identity, runs: (found.get(key)?.runs ?? 0) + 1 });
  }
  return [...found.values()].sort((a, b) => a.port - b.port);
}

function stepResult(step: Step, runs: readonly RunRecord[], applicable: boolean): StepResult {
  const { title, protection } = step;
  const first: Record<string, number> = {};
  for (const { first: f } of runs) {
    const who = f.what === '' ? f.by : `${f.by}: ${f.what}`;
    first[who] = (first[who] ?? 0) + 1;
  }
  const verdict = worstOf(runs.map((r) => r.verdict));
  const deviations = runs.flatMap((r) =>
    r.deviations.map((text) => ({ text, repeat: r.repeat, journal: r.journal })),
  );
  const shown = runs.find((r) => r.verdict === verdict);
  return {
    step: step.step,
    title,
    protection,
    runs: runs.length,
    verdict: applicable && runs.length === 0 ? 'inconclusive' : verdict,
    measures: (runs[0]?.measures ?? []).map((_, k) => measureResult(runs, k)),
    first,
    deviations: deviations.slice(0, MOST_DEVIATIONS),
    moreDeviations: Math.max(0, deviations.length - MOST_DEVIATIONS),
    trace: shown === undefined ? null : { ...shown.trace, repeat: shown.repeat, journal: shown.journal },
    journals: runs.map((r) => ({ repeat: r.repeat, file: r.journal, sha256: r.journalHash })),
  };
}

/** How far the unfavourable ends of the interval lie beyond their limits, in its unit; greater is worse. */
const over = ({ hi, atMost }: Measure): number =>
  atMost === null ? Number.NEGATIVE_INFINITY : (hi ?? Number.POSITIVE_INFINITY) - atMost;
const under = ({ lo, atLeast }: Measure): number =>
  atLeast === null ? Number.NEGATIVE_INFINITY : atLeast - (lo ?? Number.NEGATIVE_INFINITY);
const sideOf = (m: Measure): 'over' | 'under' => (over(m) >= under(m) ? 'over' : 'under');
const badness = (m: Measure): number =>
  m.value === null ? Number.POSITIVE_INFINITY : Math.max(over(m), under(m));

function measureResult(runs: readonly RunRecord[], k: number): MeasureResult {
  const all = runs.map((r) => ({ run: r, measure: r.measures[k] as Measure }));
  let worst = all[0] as (typeof all)[number];
  for (const each of all) if (badness(each.measure) > badness(worst.measure)) worst = each;
  const { name, unit, atMost, atLeast, source, value, lo, hi, n } = worst.measure;
  const widths = all.flatMap(({ measure: m }) => {
    if (m.value === null) return [];
    const above = m.atMost === null ? 0 : (m.hi ?? Number.POSITIVE_INFINITY) - m.value;
    const below = m.atLeast === null ? 0 : m.value - (m.lo ?? Number.NEGATIVE_INFINITY);
    return [Math.max(above, below)];
  });
  const width = Math.max(...widths);
  return {
    ...{ name, unit, atMost, atLeast, source },
    spread: spread(all.map(({ measure }) => measure.value ?? Number.NaN)),
    uncertainty: Number.isFinite(width) ? width : null,
    worst: value === null ? null : sideOf(worst.measure) === 'over' ? hi : lo,
    journal: worst.run.journal,
    n,
    verdict: worstOf(all.map(({ measure }) => measure.verdict)),
    values: all.map(({ run, measure: m }) => ({ repeat: run.repeat, value: m.value, n: m.n })),
  };
}

/** The file `proof.json`: its SHA-256 is the number of the certificate. */
export const proofText = (proof: object): string => `${JSON.stringify(proof, null, 1)}\n`;
