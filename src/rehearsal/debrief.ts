/**
 * What a team at a simulated charger has seen and done, told afterwards: in order, with times; what acted first and by
 * which figures; what was refused and what would have permitted it; and whether the exercise was reached. Pure.
 */
import { FAULTS, type FaultDefinition } from '../../simulators/faults.js';
import { CATALOGUE } from '../checks/catalogue.js';
import type { CurrentLimit, Finding } from '../checks/check.js';
import { between } from '../checks/phases.js';
import { figure, withUnit } from '../host/words.js';
import type { Phase } from '../rig/roles.js';
import { EXIT_TEXT, type Outcome, type Refusal, type TripRecord } from '../supervisor/outcome.js';
import type { PersonOrder } from '../supervisor/session-types.js';
import type { Opening } from '../supervisor/stand.js';
import type { MadeFault } from './bench-faults.js';
import { type Exercise, type Seen, wordsOf } from './exercise.js';

type What =
  | { readonly kind: 'begun'; readonly order: Opening; readonly by: string }
  | { readonly kind: 'order'; readonly order: PersonOrder }
  | { readonly kind: 'phase'; readonly phase: Phase }
  | { readonly kind: 'limit'; readonly limit: CurrentLimit }
  | { readonly kind: 'finding'; readonly finding: Finding }
  | { readonly kind: 'trip'; readonly trip: TripRecord }
  | { readonly kind: 'refusal'; readonly refusal: Refusal }
  | { readonly kind: 'ended'; readonly order: Opening; readonly outcome: Outcome; readonly exit: number };
/** One thing that was seen or done, ms since the exercise began. */
export type Fact = What & { readonly atMs: number };

export interface Verdict {
  readonly reached: boolean;
  /** From the first that was not seen on. */
  readonly missing: readonly Seen[];
  /** What must not have been, and was. */
  readonly broken: readonly Seen[];
}

export interface Debrief {
  readonly reached: boolean;
  readonly lines: readonly string[];
}

/** Where something is live, or about to be. */
const isLive = (phase: Phase): boolean => between(phase, 'joining-train', 'tapering');

const isOneOf = (code: string, codes: readonly string[] | undefined): boolean =>
  codes === undefined || codes.includes(code);

const isDone = (fact: Fact, order: Opening): boolean =>
  fact.kind === 'ended' && fact.order === order && fact.exit === 0;

const nameIn = (fact: Fact): string | null => {
  if (fact.kind === 'begun') return fact.by;
  return fact.kind === 'order' ? fact.order.by : null;
};

/** Is the i-th fact what was to be seen? */
function fits(seen: Seen, facts: readonly Fact[], i: number): boolean {
  const fact = facts[i] as Fact;
  switch (seen.see) {
    case 'phase':
      return fact.kind === 'phase' && fact.phase === seen.phase;
    case 'finding':
      return fact.kind === 'finding' && fact.finding.code === seen.code;
    case 'tripped':
      return (
        fact.kind === 'trip' &&
        isOneOf(fact.trip.code, seen.codes) &&
        (seen.phase === undefined || seen.phase === fact.trip.phase)
      );
    case 'refused':
      return (
        fact.kind === 'refusal' &&
        isOneOf(fact.refusal.code, seen.codes) &&
        (seen.order === undefined || seen.order === fact.refusal.asked)
      );
    case 'ordered':
      return (
        (fact.kind === 'order' && fact.order.order === seen.order) ||
        (fact.kind === 'begun' && fact.order === seen.order)
      );
    case 'bound':
      return fact.kind === 'limit' && fact.limit.limit === seen.limit;
    case 'ended':
      return (
        fact.kind === 'ended' &&
        fact.order === 'start' &&
        fact.outcome.outcome === seen.outcome &&
        (seen.exit === undefined || seen.exit === fact.exit) &&
        (seen.endReason === undefined || seen.endReason === fact.outcome.endReason)
      );
    case 'acknowledged':
      return isDone(fact, 'acknowledge');
    case 'plug-freed':
      return isDone(fact, 'free-plug');
    case 'handed-over': {
      const by = nameIn(fact);
      const first = facts.find((f) => nameIn(f) !== null) as Fact;
      return by !== null && by !== nameIn(first);
    }
    case 'energised-after-trip': {
      if (fact.kind !== 'phase' || !isLive(fact.phase)) return false;
      const before = facts.slice(0, i);
      const tripAt = before.findLastIndex((f) => f.kind === 'trip');
      return tripAt >= 0 && !before.slice(tripAt).some((f) => isDone(f, 'acknowledge'));
    }
  }
}

/** Each thing must be seen after the one before it. */
export function judge({ see, never }: Exercise, facts: readonly Fact[]): Verdict {
  let from = 0;
  let met = 0;
  for (const seen of see) {
    const at = facts.findIndex((_, i) => i >= from && fits(seen, facts, i));
    if (at < 0) break;
    from = at + 1;
    met++;
  }
  const missing = see.slice(met);
  const broken = never.filter((seen) => facts.some((_, i) => fits(seen, facts, i)));
  return { reached: missing.length === 0 && broken.length === 0, missing, broken };
}

const at = (ms: number): string => `${(ms / 1000).toFixed(1)} s`;
const partOf = (part: string | null | undefined): string =>
  part === null || part === undefined || part === '' ? '' : ` (${part})`;
/** Nothing where there is no figure to tell. */
function against(reading: number | null, limit: number | null, unit: string, setting: string): string {
  if (reading === null || !Number.isFinite(reading)) return '';
  const limits = limit === null ? '' : `, limit ${withUnit(limit, unit)}`;
  return `: read ${withUnit(reading, unit)}${limits}${setting === '' ? '' : ` [${setting}]`}`;
}

function orderWords({ order, by, currentA }: PersonOrder): string {
  const figures = currentA === undefined ? '' : `, to ${figure(currentA)} A`;
  return `${by} ordered ${order}${figures}`;
}

function line(fact: Fact): string {
  switch (fact.kind) {
    case 'begun':
      return `${fact.by} asked for ${fact.order}`;
    case 'order':
      return orderWords(fact.order);
    case 'phase':
      return `phase ${fact.phase}`;
    case 'limit':
      return `the limit ${fact.limit.limit} governs, ${figure(fact.limit.currentA)} A`;
    case 'finding': {
      const { code, part, reading, limit, unit, setting } = fact.finding;
      return `found ${code}${partOf(part)}${against(reading, limit, unit, setting)}`;
    }
    case 'trip':
      return `TRIP ${fact.trip.code}${partOf(fact.trip.part)} in ${fact.trip.phase}`;
    case 'refusal':
      return `refused ${fact.refusal.asked} by ${fact.refusal.by}: ${fact.refusal.code}${partOf(fact.refusal.part)}`;
    case 'ended':
      return endLine(fact);
  }
}

function endLine({ order, outcome, exit }: Extract<Fact, { kind: 'ended' }>): string {
  if (order !== 'start') return `${order} ${exit === 0 ? 'was carried out' : 'was not carried out'}`;
  const charged =
    outcome.outcome === 'refused' ? '' : `, ${figure(outcome.energyToBatteryKwh, 3)} kWh to the battery`;
  return `ended ${outcome.outcome}, ${outcome.endReason}${charged}; exit ${exit}: ${EXIT_TEXT[exit] ?? ''}`;
}

function firstOut(facts: readonly Fact[]): string[] {
  return facts.flatMap((fact) => {
    if (fact.kind !== 'trip') return [];
    const { code, part, reading, limit, unit, setting, detectedAfterMs } = fact.trip;
    const { text, remedy } = CATALOGUE[code];
    return [
      `First to act at ${at(fact.atMs)}: ${code}${partOf(part)}${against(reading, limit, unit, setting)}, ` +
        `decided ${figure(detectedAfterMs, 3)} ms after the first sample out of limit.`,
      `That is: ${text}; ${remedy}.`,
    ];
  });
}

function refused(facts: readonly Fact[]): string[] {
  return facts.flatMap((fact) => {
    if (fact.kind !== 'refusal') return [];
    const { asked, by, code, part, reading, limit, unit, setting, text, remedy } = fact.refusal;
    return [
      `Refused at ${at(fact.atMs)}: ${asked} by ${by}, ${code}${partOf(part)}: ${text}` +
        `${against(reading, limit, unit, setting)}. What would permit it: ${remedy}.`,
    ];
  });
}

function wrong(made: readonly MadeFault[], originMs: number): string[] {
  return made.map(({ fault, part, magnitude, atMs }) => {
    const { unit, text }: FaultDefinition = FAULTS[fault];
    const size = unit === '' ? '' : `, ${withUnit(magnitude, unit)}`;
    return `What was wrong, from ${at(Math.max(0, atMs - originMs))}: ${fault}${partOf(part)}${size}: ${text}.`;
  });
}

/** What has tripped is told as the trip, not as a finding besides. */
function isTrip(facts: readonly Fact[], i: number): boolean {
  const [before, fact] = [facts[i - 1], facts[i]];
  return fact?.kind === 'finding' && before?.kind === 'trip' && fact.finding.code === before.trip.code;
}

/** More than this nobody reads; the journal has it all. */
const MOST_LINES = 120;

export interface Collected {
  readonly facts: readonly Fact[];
  /** Faults that were made, in clock time, and the clock time at which the exercise began. */
  readonly made: readonly MadeFault[];
  readonly originMs: number;
  /** The time of the exercise was over. */
  readonly late: boolean;
}

export function debriefOf(exercise: Exercise, { facts, made, originMs, late }: Collected): Debrief {
  const { reached, missing, broken } = judge(exercise, facts);
  const verdict: string[] = [];
  if (reached) verdict.push('Reached.');
  else {
    verdict.push('Not reached.');
    if (missing.length > 0) verdict.push(`Not seen: ${missing.map(wordsOf).join('; then ')}.`);
    for (const seen of broken) verdict.push(`Must not have been, and was: ${wordsOf(seen)}.`);
    if (late) verdict.push(`The time was over: ${figure(exercise.withinMin)} min of sessions.`);
  }
  const happened = facts.filter((_, i) => !isTrip(facts, i)).map((f) => `${at(f.atMs)}: ${line(f)}`);
  const left = happened.length - MOST_LINES;
  if (left > 0) happened.splice(MOST_LINES, left, `and ${left} more, which the journals have`);
  const nothing = facts.length === 0 ? ['Nothing was asked for.'] : [];
  const lines = [
    ...verdict,
    ...nothing,
    ...happened,
    ...firstOut(facts),
    ...refused(facts),
    ...wrong(made, originMs),
    exercise.debrief.trim(),
  ];
  return { reached, lines };
}
