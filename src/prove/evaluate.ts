/** Holds one run of a step against what the step says: what was measured, who acted first, how it ended. */
import type { LoadedRig } from '../rig/load.js';
import { orNull } from '../supervisor/outcome.js';
import { boundOf } from './limits.js';
import { type Facts, figureOf, type Measured, timeBetween, type Untimed } from './measure.js';
import type { Seen, Step } from './procedure.js';
import type { Moment, Timeline } from './timeline.js';
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

const UNTIMED: Readonly<Record<Untimed, string>> = {
  'no-cause': 'the cause was not timed: nothing can be said of what came after it',
  'before-cause': 'it was so before the cause came: nothing can be said of what that brought about',
};

export const nameOf = (seen: Seen): string => ('time' in seen ? `${seen.from} to ${seen.time}` : seen.figure);

/** What was to be measured, held against what, before anything is. */
function unmeasured(seen: Seen, loaded: LoadedRig): Measure {
  const bound = (limit: Parameters<typeof boundOf>[0] | undefined) =>
    limit === undefined ? null : boundOf(limit, loaded);
  const atMost = bound('time' in seen ? seen.withinMs : seen.atMost);
  const atLeast = bound('time' in seen ? seen.notBeforeMs : seen.atLeast);
  return {
    name: nameOf(seen),
    unit: 'time' in seen ? 'ms' : FIGURE_TEXT[seen.figure].unit,
    atMost: atMost?.value ?? null,
    atLeast: atLeast?.value ?? null,
    source: [atMost?.source, atLeast?.source].filter((s) => s !== undefined).join('; '),
    ...{ value: null, lo: null, hi: null, n: -1, verdict: 'inconclusive', remark: '' },
  };
}

/** Nothing was put to the proof, and why. */
export function unproven(step: Step, loaded: LoadedRig, why: string): Evaluation {
  return {
    measures: step.see.map((seen) => unmeasured(seen, loaded)),
    first: NOBODY,
    verdict: 'inconclusive',
    deviations: [why],
  };
}

function measure(
  seen: Seen,
  line: Timeline,
  loaded: LoadedRig,
  relay: string | undefined,
  facts: Facts | undefined,
): Measure {
  const found =
    'time' in seen
      ? timeBetween(line, seen.from, seen.time, loaded.rig, relay)
      : figureOf(line, seen.figure, loaded.rig, facts);
  const nothing = unmeasured(seen, loaded);
  if (typeof found === 'string') return { ...nothing, remark: UNTIMED[found] };
  const verdict = judge(found, nothing.atMost ?? Number.NaN, nothing.atLeast ?? Number.NaN);
  const { value, lo, hi, n }: Measured = found;
  const remark =
    verdict === 'inconclusive'
      ? 'the limit lies within the uncertainty'
      : Number.isNaN(value)
        ? 'not seen'
        : '';
  return { ...nothing, value: orNull(value), lo: orNull(lo), hi: orNull(hi), n, verdict, remark };
}

const NOBODY: FirstToAct = { by: 'nobody', what: '', n: -1 };

interface Act extends Moment {
  readonly first: FirstToAct;
}

/** Device and supervisor both act by make-safe; its cause tells them apart. */
function actsOf({ events }: Timeline): Act[] {
  // Whatever the clocks allow: what was ordered came after it was decided.
  const decided = events.find((e) => e.name === 'trip')?.loMs ?? Number.NEGATIVE_INFINITY;
  return events.flatMap((e): Act[] => {
    const { name, detail, n } = e;
    if (name === 'make-safe' && detail === 'ordered') {
      const first = { by: 'supervisor', what: detail, n } as const;
      return [{ ...e, loMs: Math.max(e.loMs, decided), first }];
    }
    const act = (by: FirstToAct['by'], what: string): Act[] => [{ ...e, first: { by, what, n } }];
    if (name === 'relay') return act('hard-wired', detail);
    if (name === 'watchdog') return act('device', 'watchdog');
    if (name === 'make-safe') return act('device', detail);
    return name === 'stop' ? act('supervisor', detail) : [];
  });
}

export function firstToAct(line: Timeline): FirstToAct {
  return actsOf(line)[0]?.first ?? NOBODY;
}

const ACTS: Readonly<Record<FirstToAct['by'], string>> = {
  'hard-wired': 'a hard-wired relay',
  device: 'the device by itself',
  supervisor: 'only the supervisor',
  nobody: 'nobody',
};

function judgeFirst(step: Step, line: Timeline): { verdict: Verdict; deviation: string | null } {
  const { by, relay, name } = step.protection;
  const acts = actsOf(line);
  const first = firstToAct(line);
  // A refused start leaves nothing to act on; a figure is held by nobody's act.
  if (step.ends.outcome !== 'tripped' || by === 'regulation') return { verdict: 'pass', deviation: null };
  if (first.by === by && (relay === undefined || first.what === relay)) {
    // Another that may have been as quick leaves it open who it was.
    const rival = acts.find((a) => a.first.by !== by && a.loMs < (acts[0]?.hiMs ?? Number.NaN));
    if (rival === undefined) return { verdict: 'pass', deviation: null };
    const deviation = `${ACTS[rival.first.by]} may have acted before ${name}: the times lie too close together`;
    return { verdict: 'inconclusive', deviation };
  }
  const who = first.by === 'hard-wired' ? `the relay ${first.what}` : ACTS[first.by];
  const deviation = `${who} acted first, where ${name} must`;
  // A quicker protection leaves the one under proof unproven; a slower one that had to act shows that it failed.
  const quicker =
    (by === 'supervisor' && first.by !== 'nobody') || (by === 'device' && first.by === 'hard-wired');
  return { verdict: quicker ? 'inconclusive' : 'fail', deviation };
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

/** The step makes its fault in mid-session, and none was made: nothing was put to the proof. */
function untested(step: Step, { events }: Timeline, ended: Ended): string | null {
  // Noise may take its own mark: what it took of the reports shows it.
  const makes = step.inject.some(({ phase, fault }) => phase !== 'start' && fault !== 'link-noisy');
  if (!makes || events.some(({ name }) => name === 'mark')) return null;
  return `ended for ${ended.trip?.code ?? ended.endReason} before the fault was made, or its mark was not seen: nothing was put to the proof`;
}

export function evaluate(
  step: Step,
  line: Timeline,
  ended: Ended,
  exit: number,
  loaded: LoadedRig,
  facts?: Facts,
): Evaluation {
  const measures = step.see.map((seen) => measure(seen, line, loaded, step.protection.relay, facts));
  const first = firstToAct(line);
  const who = judgeFirst(step, line);
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
  const why = untested(step, line, ended);
  return why === null
    ? { measures, first, verdict, deviations }
    : { measures: measures.map(inconclusive), first, verdict: 'inconclusive', deviations: [why] };
}

const inconclusive = (m: Measure): Measure => ({ ...m, verdict: 'inconclusive' });

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
