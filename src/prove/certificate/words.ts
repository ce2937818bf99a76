/** Sentences and figures a certificate says in more than one place. */
import { figure } from '../../host/words.js';
import type { MeasureResult } from '../proof.js';
import { EVENT_TEXT, type EventName, FIGURE_TEXT, type FigureName } from '../vocabulary.js';

/** Records are counted from 0; a count over the whole journal rests on no single one. */
export const recordOf = (n: number): string => (n >= 0 ? `record ${n}` : 'the whole journal');

/** As it stands on a line, under the mark, and where a word is needed for the beginning. */
const MARK_TEXT: Readonly<Record<EventName, string>> = {
  mark: 'fault',
  relay: 'relay',
  watchdog: 'watchdog',
  'make-safe': 'make-safe',
  'converter-off': 'converter off',
  'supply-tripped': 'breaker tripped',
  'parted-p': 'P parted',
  'parted-n': 'N parted',
  parted: 'both parted',
  finding: 'found',
  trip: 'TRIP',
  stop: 'ramp-down',
  released: 'plug freed',
  'current-zero': 'no current',
  'output-safe': 'output safe',
  'plug-safe': 'plug safe',
};
export const markText = (name: string): string => MARK_TEXT[name as EventName] ?? name;

export interface Span {
  readonly from: EventName;
  readonly to: EventName;
}

/** @returns null for a figure that is no time between two events */
export function spanOf(measure: string): Span | null {
  const [from = '', to = ''] = measure.split(' to ');
  return from in EVENT_TEXT && to in EVENT_TEXT ? { from: from as EventName, to: to as EventName } : null;
}

export function meaningOf({ name }: MeasureResult): string {
  const span = spanOf(name);
  if (span !== null) return `from: ${EVENT_TEXT[span.from]}; to: ${EVENT_TEXT[span.to]}`;
  return FIGURE_TEXT[name as FigureName]?.text ?? '';
}

export const limitsOf = ({ atMost, atLeast, unit }: MeasureResult): string[] => [
  ...(atMost === null ? [] : [`≤ ${figure(atMost)} ${unit}`.trim()]),
  ...(atLeast === null ? [] : [`≥ ${figure(atLeast)} ${unit}`.trim()]),
];

/** The worst: what was not seen in one run is worse than any figure of another. */
export const worstOf = ({ worst, values }: MeasureResult): string =>
  worst !== null ? figure(worst) : values.some((v) => v.value === null) ? 'not seen' : 'no bound';

export const times = (n: number, what: string): string => `${n} ${what}${n === 1 ? '' : 's'}`;
