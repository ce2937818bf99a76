/**
 * Journal format v1: the one place that knows it.
 *
 * A journal is NDJSON, one record a line, UTF-8, LF. Every record is
 *   {"n":sequence,"t":monotonic ns since the header,"k":kind,"b":body}
 * with n counting from 0 without gaps and t never falling. The first record is the `header`. A `seal` record
 * closes a block: its hash is SHA-256 over the hex text of the previous seal (64 zeros for the first)
 * followed by the raw bytes of the block, that is of every line since the previous seal line (itself
 * included) up to this seal line, and of this line up to its hash. Bulk hashing therefore verifies a journal. Byte by byte, with what
 * each level of protection proves: src/journal/FORMAT.md.
 */
import { createHash } from 'node:crypto';

export const JOURNAL_FORMAT = 'loopwarden-journal';
export const JOURNAL_VERSION = 1;
/** A block is sealed at the latest after this many records. */
export const MAX_BLOCK_RECORDS = 512;
export const FIRST_SEAL = '0'.repeat(64);

/**
 * header   what this journal belongs to
 * rig      the whole rig as used: body {rig}
 * setup    what the session was given besides: the wish, and what stood against a start before anything was read
 * clock    wall time beside the monotonic time of the record, at the start and every ten seconds or so
 * device   identity given in a handshake
 * frame    a received line that passed the frame gate: body [port, line as it came]
 * tick     a step taken because nothing arrived: body null
 * elapsed  a timer ran out: body {timer, current}; superseded ones are kept too
 * person   an order by a person: body {order, by, …}
 * port     a port opened, went down, or rejected lines
 * finding  a finding changed: body {code, failing, reading, limit, unit, setting, part?}
 * event    given to the machine
 * state    the machine's state after a transition
 * order    an order handed to the gate: body {orders, port, seq, durable}
 * dropped  an order the gate did not let out: body {orders, why}
 * answer   the device's answer to an order
 * refusal  full refusal object
 * limit    another limit binds
 * trip     the first finding that latched, with its figures
 * sync     the store confirmed everything up to a sequence
 * wave     pilot samples
 * tag      an event tag of the device
 * fault    the supervisor itself failed: body {why}; make-safe and the end follow
 * end      the outcome
 * seal     closes a block
 */
export const RECORD_KINDS = [
  'header',
  'rig',
  'setup',
  'clock',
  'device',
  'frame',
  'tick',
  'elapsed',
  'person',
  'port',
  'finding',
  'event',
  'state',
  'order',
  'dropped',
  'answer',
  'refusal',
  'limit',
  'trip',
  'sync',
  'wave',
  'tag',
  'fault',
  'end',
  'seal',
] as const;
export type RecordKind = (typeof RECORD_KINDS)[number];

export interface JournalHeader {
  readonly format: typeof JOURNAL_FORMAT;
  readonly version: typeof JOURNAL_VERSION;
  readonly software: string;
  readonly rig: string;
  readonly rigHash: string;
  readonly machineHash: string;
  readonly nonce: string;
  /** `virtual` for a dry-run: wall times are then invented. */
  readonly clock: 'real' | 'virtual';
  readonly wallMs: number;
  /** Who asked for the session. */
  readonly by: string;
  /** Fingerprint of the public key the seals are signed for; null for a journal without signatures. */
  readonly key: string | null;
}

/** A seal: the hash of its block and, in a signed journal, the Ed25519 signature of it, base64. */
export interface SealBody {
  readonly hash: string;
  readonly sig?: string;
}

export interface ClockBody {
  readonly wallMs: number;
  /** Between the readings of the two clocks lay at most this, ms. The wall clock's own error is not known here. */
  readonly readWithinMs: number;
}

export interface JournalRecord {
  readonly n: number;
  readonly t: number;
  readonly k: RecordKind;
  readonly b: unknown;
}

/** JSON has no NaN or Infinity: both are written null, which reads back as "unreadable". */
export function encodeRecord(n: number, tNs: number, kind: RecordKind, body: unknown): string {
  return `{"n":${n},"t":${tNs},"k":"${kind}","b":${JSON.stringify(body)}}\n`;
}

/** What is signed for a seal, so that a signature can be taken for nothing else. */
export const signedText = (hash: string): string => `${JOURNAL_FORMAT} seal ${JOURNAL_VERSION}\n${hash}\n`;

/** How the line of a seal begins, up to its hash: covered by it, so that its own place and time are too. */
export const sealOpening = (n: number, tNs: number): string =>
  `{"n":${n},"t":${tNs},"k":"seal","b":{"hash":"`;

/** @param block raw lines, and the opening of the seal that closes them */
export function hashBlock(previousSeal: string, block: string): string {
  return createHash('sha256').update(previousSeal, 'ascii').update(block, 'utf8').digest('hex');
}
