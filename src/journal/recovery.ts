/**
 * What a journal found on disk is worth: one row of a table for each state it can be in, decided from its chain of
 * seals and its lines alone. Nothing is ever repaired: a journal is evidence, and what a row says about it is told.
 */

import type { Chain } from './chain.js';
import type { JournalRecord } from './format.js';
import { JOURNAL_FORMAT, JOURNAL_VERSION, type JournalHeader, RECORD_KINDS } from './format.js';
import type { RecordReader } from './reader.js';

export type RecoveryRow =
  | 'empty'
  | 'not-a-journal'
  | 'unknown-version'
  | 'two-writers'
  | 'broken-chain'
  | 'bad-block'
  | 'bad-signature'
  | 'foreign-records'
  | 'unsealed-end'
  | 'torn-tail'
  | 'unfinished'
  | 'clean';

export interface Recovery {
  readonly what: string;
  readonly todo: string;
  /** Everything up to the last seal is as it was written. */
  readonly intact: boolean;
}

export const RECOVERY: Readonly<Record<RecoveryRow, Recovery>> = {
  empty: {
    what: 'the file holds no whole record: the session ended before its header was on disk, so nothing was ordered',
    todo: 'nothing to audit; keep the file with the others',
    intact: false,
  },
  'not-a-journal': {
    what: 'the first line is no header of a journal of loopwarden',
    todo: 'give the .ndjson file that a session named; where it is that file, its beginning was overwritten',
    intact: false,
  },
  'unknown-version': {
    what: 'a journal of a format version this program does not know',
    todo: 'audit it with the version of loopwarden that wrote it, or a newer one',
    intact: false,
  },
  'two-writers': {
    what: 'two sessions wrote into this file, or two were put together',
    todo: 'trust nothing in it; look for the copy taken from the machine that ran the session',
    intact: false,
  },
  'broken-chain': {
    what: 'blocks are missing, out of order or from elsewhere: the seals do not follow from one another',
    todo: 'trust nothing after the place named; look for another copy',
    intact: false,
  },
  'bad-block': {
    what: 'a block is not as it was sealed, while what follows it is: a bad sector, or somebody changed it',
    todo: 'trust the blocks around it, not this one; look for another copy',
    intact: false,
  },
  'bad-signature': {
    what: 'the seals follow from one another but are not signed by this key: the chain was made anew, or the key is another',
    todo: 'make sure of the key first; when it is the right one, trust nothing in the file',
    intact: false,
  },
  'foreign-records': {
    what: 'records of a kind, or in a place, in which no version of this program writes them',
    todo: 'trust nothing in it; look for the copy taken from the machine that ran the session',
    intact: false,
  },
  'unsealed-end': {
    what: 'the session has its end, but records stand behind the last seal, for which nothing vouches',
    todo: 'a process lost in its last moment leaves that; so does somebody who adds records. Look for another copy',
    intact: false,
  },
  'torn-tail': {
    what: 'the last line is cut short: power or process were lost while it was written',
    todo: 'the record stands up to the last seal; treat the rig as latched until a named person acknowledges',
    intact: true,
  },
  unfinished: {
    what: 'whole to its last line, but without the end of the session: the process was lost, or the tail was cut off',
    todo: 'treat the rig as latched until a named person acknowledges; compare its head with the one noted elsewhere',
    intact: true,
  },
  clean: { what: 'whole, with the end of its session', todo: 'nothing', intact: true },
};

/** In this order, once each. */
const FIRST_RECORDS: readonly string[] = ['header', 'rig', 'setup'];
const KNOWN: ReadonlySet<string> = new Set(RECORD_KINDS);
const TEXTS = ['format', 'software', 'rig', 'rigHash', 'machineHash', 'nonce', 'clock', 'by'] as const;

function isHeader(body: unknown): body is JournalHeader {
  if (typeof body !== 'object' || body === null) return false;
  const header = body as Record<string, unknown>;
  return (
    TEXTS.every((key) => typeof header[key] === 'string') &&
    typeof header.version === 'number' &&
    typeof header.wallMs === 'number' &&
    (header.key === null || typeof header.key === 'string')
  );
}

/** Follows the records as far as the table needs. */
export class Outline {
  header: JournalHeader | null = null;
  first: JournalRecord | null = null;
  headers = 0;
  ended = false;
  seals = 0;
  /** A kind nobody writes, or one of the first three records elsewhere. */
  foreign: string | null = null;

  take(record: JournalRecord): void {
    this.first ??= record;
    if (record.k === 'seal') this.seals++;
    const place = FIRST_RECORDS.indexOf(record.k);
    if (!KNOWN.has(record.k))
      this.foreign ??= `record ${record.n} is of the unknown kind ${JSON.stringify(record.k)}`;
    else if (record.k !== 'header' && (place >= 0 ? place !== record.n : record.n < FIRST_RECORDS.length))
      this.foreign ??= `record ${record.n} is a ${record.k}`;
    if (record.k === 'header') {
      this.headers++;
      if (isHeader(record.b)) this.header ??= record.b;
    }
    if (record.k === 'end') this.ended = true;
  }
}

/** The first row that fits, the worst first. */
export function rowOf(chain: Chain, reader: RecordReader, found: Outline): RecoveryRow {
  const { faults } = reader;
  const has = (...kinds: (typeof faults)[number]['kind'][]): boolean =>
    faults.some((f) => kinds.includes(f.kind));
  // A header that was being written when everything stopped is no record either.
  if (reader.records === 0 && faults.every((fault) => fault.kind === 'cut-short')) return 'empty';
  const { header, first } = found;
  if (first?.k !== 'header' || header?.format !== JOURNAL_FORMAT) return 'not-a-journal';
  if (header.version !== JOURNAL_VERSION) return 'unknown-version';
  if (found.headers > 1) return 'two-writers';
  const bad = chain.faults.filter((f) => f.kind === 'hash' || f.kind === 'too-long');
  // One altered block leaves its neighbours whole and its records in order.
  const alone = bad.every((f, i) => i === 0 || f.n - (bad[i - 1] as { n: number }).n > 1);
  if (has('repeated') && bad.length === 0) return 'two-writers';
  if (has('gap', 'repeated', 'time-fell')) return 'broken-chain';
  // The chain knows a seal by its exact spelling; what only looks like one is none.
  if (found.seals !== chain.seals) return 'broken-chain';
  if (bad.length > 0) return bad.length === 1 && alone ? 'bad-block' : 'broken-chain';
  if (chain.faults.length > 0 || chain.lacksSignature) return 'bad-signature';
  if (found.foreign !== null) return 'foreign-records';
  if (has('not-a-record', 'too-long')) return 'bad-block';
  if (found.ended && chain.unsealedBytes > 0) return 'unsealed-end';
  if (has('cut-short')) return 'torn-tail';
  return found.ended ? 'clean' : 'unfinished';
}
