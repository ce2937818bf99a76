/** Sentences a report says in more than one place. */
import type { AuditResult } from '../audit/audit.js';
import type { FirstOut } from '../audit/first-out.js';
import { lacksEnd } from '../audit/verdict.js';
import { CATALOGUE, type Code } from '../checks/catalogue.js';
import { isoOf } from '../host/clock.js';
import { withUnit } from '../host/words.js';

export const seconds = (ms: number): string => `${(ms / 1000).toFixed(3)} s`;

const SHOWN_UNITS: Readonly<Record<string, string>> = { ohm: 'Ω', degC: '°C' };
/** With the unit as it is printed. */
export const inUnit = (value: number | null, unit: string, digits?: number): string =>
  withUnit(value, SHOWN_UNITS[unit] ?? unit, digits);

/** Where what is decided anew ends before the record does; empty when it does not. */
export const decidedUpTo = ({ divergence, notReplayed }: AuditResult): string =>
  divergence !== null
    ? ` Only up to ${seconds(divergence.atMs)}: there the decisions part.`
    : notReplayed !== null
      ? ' Only as far as the record could be decided anew.'
      : '';

export const verdictOf = (exit: number, a: AuditResult): string => {
  if (exit === 0) return 'SOUND';
  if (exit === 5) return 'RECORD NOT INTACT';
  if (exit === 8) return a.notReplayed === null && lacksEnd(a) ? 'UNFINISHED' : 'NOT DECIDED ANEW';
  return a.diverged === true ? 'DECISIONS DIVERGE' : 'AN INVARIANT IS BROKEN';
};

/** The greatest a date of the language can be, ms; a damaged header may say anything. */
const LAST_MS = 8.64e15;
export const when = (wallMs: unknown): string =>
  typeof wallMs === 'number' && Math.abs(wallMs) <= LAST_MS ? isoOf(wallMs) : 'at a time that cannot be read';

export const partOf = (part: string | null): string => (part === null ? '' : ` (${part})`);

/** In one sentence: what, reading, limit, setting, where and when. */
export function firstOutSentence(first: FirstOut | null): string {
  if (first === null) return 'Nothing was found that limits, stops or trips.';
  const { code, part, phase, atS, atMs, reading, limit, unit, setting, effect } = first;
  const text = CATALOGUE[code as Code]?.text ?? 'a code this program does not know';
  const figures =
    reading === null
      ? ''
      : `: read ${inUnit(reading, unit)} against the limit ${inUnit(limit, unit)} of ${setting}`;
  return (
    `${code}${partOf(part)}, ${text}${figures}; ${effect ?? 'no effect known'} in ${phase} ` +
    `at ${seconds(atMs)} (${atS.toFixed(3)} s after leaving parked).`
  );
}

export function signatureSentence({ signed, key }: AuditResult): string {
  const shown = key === null ? '' : ` ${String(key).slice(0, 16)}…`;
  const sentences: Record<AuditResult['signed'], string> = {
    no: 'not signed: the chain shows damage by accident, not by somebody who makes it anew',
    'not-checked': `signed for key${shown}; NOT checked: the public key was not given (--key)`,
    valid: `every seal is signed by the key given (${shown.trim()})`,
    invalid: 'the signatures are NOT of the key given',
  };
  return sentences[signed];
}
