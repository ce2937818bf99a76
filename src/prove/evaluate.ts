/** Holds one run of a step against what the step says: what was measured, who acted first, how it ended. */
import type { LoadedRig } from '../rig/load.js';
import { boundOf } from './limits.js';
import { figureOf, type Measured, timeBetween } from './measure.js';
import type { Seen, Step } from './procedure.js';
import type { Timeline } from './timeline.js';
import { judge, type Verdict, worstOf } from './verdict.js';
import { FIGURE_TEXT } from './vocabulary.js';

export interface Measure {
  /** Stable within a step: what, and from where. */
  readonly name: string;
  readonly unit: string;
  /** null: not seen. */
  readonly value: number | null;
  readonly lo: number | null;
  readonly hi: number | null;
  readonly atMost: number | null;
  readonly atLeast: number | null;
  readonly source: string;
  readonly n: number;
  readonly verdict: Verdict;
  readonly remark: string;
}

/** Who or what acted first, as the tags of the device tell. */
export interface FirstToAct {
  readonly by: 'hard-wired' | 'device' | 'supervisor' | 'nobody';
  readonly what: string;
  readonly n: number;
}

export interface Evaluation {
  readonly measures: readonly Measure[];
  readonly first: FirstToAct;
  readonly verdict: Verdict;
  /** What is not as the step says, in words. */
  readonly deviations: readonly string[];
}

const orNull = (x: number): number | null => (Number.isFinite(x) ? x : null);
export const nameOf = (seen: Seen): string => ('time' in seen ? `${seen.from} to ${seen.time}` : seen.figure);

function measure(seen: Seen, line: Timeline, loaded: LoadedRig): Measure {
  const bound = (limit: Parameters<typeof boundOf>[0] | undefined) =>
    limit === undefined ? null : boundOf(limit, loaded);
  const atMost = bound('time' in seen ? seen.withinMs : seen.atMost);
  const atLeast = bound('time' in seen ? undefined : seen.atLeast);
  const found =
    'time' in seen ? timeBetween(line, seen.from, seen.time, loaded.rig) : figureOf(line, seen.figure);
  const base = {
    name: nameOf(seen),
    unit: 'time' in seen ? 'ms' : FIGURE_TEXT[seen.figure].unit,
    atMost: atMost?.value ?? null,
    atLeast: atLeast?.value ?? null,
    source: [atMost?.source, atLeast?.source].filter((s) => s !== undefined).join('; '),
  };
  if (found === 'no-start') {
    const none = { value: null, lo: null, hi: null, n: -1 };
    const remark = 'the cause was not timed: nothing can be said of what came after it';
    return { ...base, ...none, verdict: 'inconclusive', remark };
  }
  const verdict = judge(found, atMost?.value ?? Number.NaN, atLeast?.value ?? Number.NaN);
  const { value, lo, hi, n }: Measured = found;
  const remark =
    verdict === 'inconclusive'
      ? 'the limit lies within the uncertainty'
      : Number.isNaN(value)
        ? 'not seen'
        : '';
  return { ...base, value: orNull(value), lo: orNull(lo), hi: orNull(hi), n, verdict, remark };
}

/** Device and supervisor both act by make-safe; its cause tells them apart. */
export function firstToAct({ events }: Timeline): FirstToAct {
  for (const { name, detail, n } of events) {
    if (name === 'relay') return { by: 'hard-wired', what: detail, n };
    if (name === 'watchdog') return { by: 'device', what: 'watchdog', n };
    if (name === 'make-safe') return { by: detail === 'ordered' ? 'supervisor' : 'device', what: detail, n };
    if (name === 'stop') return { by: 'supervisor', what: detail, n };
  }
  return { by: 'nobody', what: '', n: -1 };
}

const ACTS: Readonly<Record<FirstToAct['by'], string>> = {
  'hard-wired': 'a hard-wired relay',
  device: 'the device by itself',
  supervisor: 'only the supervisor',
  nobody: 'nobody',
};

function judgeFirst(step: Step, first: FirstToAct): { verdict: Verdict; deviation: string | null } {
  const { by } = step.protection;
  // A refused start leaves nothing to act on; a figure is held by nobody's act.
  const asked = step.ends.outcome === 'tripped' && by !== 'regulation';
  if (!asked || first.by === by || (by !== 'hard-wired' && first.by === 'nobody'))
    return { verdict: 'pass', deviation: null };
  const deviation = `${ACTS[first.by]} acted first, where ${step.protection.name} must`;
  // A quicker protection leaves the one under proof unproven; a slower one that had to act shows that it failed.
  const quicker = by === 'supervisor' || (by === 'device' && first.by === 'hard-wired');
  return { verdict: quicker && first.by !== 'nobody' ? 'inconclusive' : 'fail', deviation };
}

interface Ended {
  readonly outcome: string;
  readonly endReason: string;
  readonly trip: { readonly code: string; readonly phase: string } | null;
}

function judgeEnd(step: Step, ended: Ended, exit: number): string[] {
  const { outcome, codes, phase, exit: wanted } = step.ends;
  const wrong: string[] = [];
  if (ended.outcome !== outcome) wrong.push(`ended ${ended.outcome}, expected ${outcome}`);
  if (exit !== wanted) wrong.push(`exit ${exit}, expected ${wanted}`);
  const code = ended.trip?.code ?? ended.endReason;
  if (codes !== undefined && !codes.includes(code)) wrong.push(`for ${code}, expected ${codes.join(' or ')}`);
  if (phase !== undefined && ended.trip !== null && ended.trip.phase !== phase)
    wrong.push(`in ${ended.trip.phase}, expected ${phase}`);
  return wrong;
}

export function evaluate(
  step: Step,
  line: Timeline,
  ended: Ended,
  exit: number,
  loaded: LoadedRig,
): Evaluation {
  const measures = step.see.map((seen) => measure(seen, line, loaded));
  const first = firstToAct(line);
  const who = judgeFirst(step, first);
  const wrong = judgeEnd(step, ended, exit);
  const deviations = [
    ...wrong,
    ...(who.deviation === null ? [] : [who.deviation]),
    ...measures.filter((m) => m.verdict !== 'pass').map((m) => `${m.name}: ${told(m)}`),
  ];
  const verdict = worstOf([
    ...measures.map((m) => m.verdict),
    who.verdict,
    wrong.length > 0 ? 'fail' : 'pass',
  ]);
  return { measures, first, verdict, deviations };
}

function told({ value, hi, lo, unit, atMost, atLeast, remark }: Measure): string {
  if (value === null) return remark;
  const limits = [
    ...(atMost === null ? [] : [`at most ${round(atMost)}`]),
    ...(atLeast === null ? [] : [`at least ${round(atLeast)}`]),
  ].join(', ');
  const between = `${round(lo ?? value)} to ${round(hi ?? value)}`;
  return `${round(value)} ${unit} (${between}), ${limits}${remark === '' ? '' : `: ${remark}`}`;
}

const round = (x: number): number => Number(x.toPrecision(4));
