/**
 * What a record without its end says of the session. Its process may have been lost, its tail cut off, or its disk have
 * taken no more while the session went on to a proven end: the file is the same. So a missing end alone is no decision
 * that diverges and no invariant that is known to be broken: how the session ended is unknown, and that is told.
 */
import type { InvariantId } from '../../machines/invariant-list.js';
import type { AuditResult } from './audit.js';

type Judged = Pick<AuditResult, 'invariantsBroken' | 'outcome'>;

/** A session was started, and no end of it is on the record. */
export const lacksEnd = ({ invariantsBroken, outcome }: Judged): boolean =>
  outcome === null && invariantsBroken.includes('I10');

/** Broken by what is on the record, not by what is missing from it. Without an end I10 can say nothing else. */
export const brokenOnRecord = ({ invariantsBroken, outcome }: Judged): InvariantId[] =>
  invariantsBroken.filter((id) => id !== 'I10' || outcome !== null);

export const NO_END = 'I10 is open: no end of the session is on the record';

/** What an auditor must know of a session in which a protection was proven. */
export const observedText = ({ codes, forMs }: NonNullable<AuditResult['observing']>): string =>
  `a hard-wired protection was being proven: for ${forMs} ms the supervisor only observed ${codes.join(', ')}`;
