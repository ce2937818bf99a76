/** Reads the records of a journal piece by piece: each line once, in order, with whatever is wrong about it. */

import { MAX_LINE_BYTES } from './chain.js';
import type { JournalRecord } from './format.js';

export interface LineFault {
  /** Line of the file, from 1. */
  readonly line: number;
  readonly kind: 'not-a-record' | 'gap' | 'repeated' | 'time-fell' | 'cut-short' | 'too-long';
  /** For people. */
  readonly what: string;
}

/** More than this tells nothing new; the rest is counted. */
const MOST_TOLD = 20;
const NEWLINE = 0x0a;
const HEADER_OPENING = '{"n":0,"t":0,"k":"header"';

export class RecordReader {
  readonly faults: LineFault[] = [];
  faultCount = 0;
  records = 0;
  #rest: Buffer = Buffer.alloc(0);
  #line = 0;
  #nextN = 0;
  #lastT = 0;

  /** @param take called for every line that is a record, with its text */
  constructor(private readonly take: (record: JournalRecord, raw: string) => void) {}

  feed(piece: Buffer): void {
    const data = this.#rest.length > 0 ? Buffer.concat([this.#rest, piece]) : piece;
    const end = data.lastIndexOf(NEWLINE) + 1;
    if (end > 0) {
      const lines = data.toString('utf8', 0, end).split('\n');
      lines.pop();
      for (const line of lines) this.#one(line);
    }
    this.#rest = Buffer.from(data.subarray(end));
    if (this.#rest.length > MAX_LINE_BYTES) {
      this.#line++;
      this.#fault('too-long', `a line of more than ${MAX_LINE_BYTES} bytes`);
      this.#rest = Buffer.alloc(0);
    }
  }

  /** Nothing more comes. */
  end(): void {
    if (this.#rest.length === 0) return;
    this.#line++;
    const begins = this.#rest.toString('latin1', 0, HEADER_OPENING.length);
    // A file of something else may have no line end either.
    if (this.#line === 1 && !HEADER_OPENING.startsWith(begins))
      this.#fault('not-a-record', 'not how a journal begins');
    else this.#fault('cut-short', `the last line has no end (${this.#rest.length} bytes)`);
  }

  #one(line: string): void {
    this.#line++;
    let record: JournalRecord;
    try {
      record = JSON.parse(line) as JournalRecord;
    } catch {
      this.#fault('not-a-record', 'not JSON');
      this.#nextN++;
      return;
    }
    const { n, t, k } = record ?? {};
    if (!Number.isSafeInteger(n) || !Number.isSafeInteger(t) || typeof k !== 'string' || !('b' in record)) {
      this.#fault('not-a-record', 'not of the form {"n":…,"t":…,"k":…,"b":…}');
      this.#nextN++;
      return;
    }
    if (n > this.#nextN) this.#fault('gap', `record ${n} follows ${this.#nextN - 1}`);
    else if (n < this.#nextN) this.#fault('repeated', `record ${n} comes again after ${this.#nextN - 1}`);
    if (t < this.#lastT) this.#fault('time-fell', `the time of record ${n} lies before that of the last`);
    this.#nextN = n + 1;
    this.#lastT = Math.max(this.#lastT, t);
    this.records++;
    this.take(record, line);
  }

  #fault(kind: LineFault['kind'], what: string): void {
    this.faultCount++;
    if (this.faults.length < MOST_TOLD) this.faults.push({ line: this.#line, kind, what });
  }
}
