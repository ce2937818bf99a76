/**
 * Result files of campaigns, format v1 (RESULTS.md): a line that says of what, a line a case, a line that shows the
 * file is whole. What depends on the machine or the hour, such as speed, has no place in them: the same campaign gives
 * the same bytes.
 */
import { createHash } from 'node:crypto';
import { z } from 'zod';
import { InputError } from '../host/input-error.js';
import { MOST_SHARDS, numbersOf, type Shard } from './shard.js';

export const RESULTS_FORMAT = 'loopwarden-results';
export const RESULTS_VERSION = 1;
/** As many as one run takes. */
export const MOST_CASES = 1_000_000;
/** A stack trace or two; nothing the program writes is longer. */
const LONGEST_LINE_BYTES = 1 << 20;
const SHOWN_CHARS = 40;

/** What a file holds; a kind of campaign may have further keys, which must agree where files are merged. */
export interface ResultsHeader {
  readonly kind: string;
  /** Name and version of the program. */
  readonly software: string;
  /** Tells builds of one version apart. */
  readonly build: string;
  readonly seed: number;
  /** Number of the first case of the campaign, and how many it has in all its shards. */
  readonly from: number;
  readonly cases: number;
  readonly shard: Shard;
}

export interface NumberedCase {
  readonly index: number;
}

/** A kind of campaign, as far as its files go. */
export interface CampaignKind<C extends NumberedCase> {
  readonly kind: string;
  /** One line of a case; `index` among its keys. */
  readonly caseSchema: z.ZodType<unknown>;
  /** Leaves out of the cases of a whole what was only worth keeping in a part. */
  settle(cases: readonly C[]): readonly C[];
}

export interface Results<C extends NumberedCase> {
  readonly header: ResultsHeader;
  readonly cases: readonly C[];
}

export interface ResultsFile<C extends NumberedCase> extends Results<C> {
  /** As people named it. */
  readonly file: string;
}

const whole = z.number().int().min(0);
const headerSchema = z
  .looseObject({
    format: z.literal(RESULTS_FORMAT),
    version: z.literal(RESULTS_VERSION),
    kind: z.string().min(1).max(SHOWN_CHARS),
    software: z.string().min(1).max(200),
    build: z.string().min(1).max(200),
    seed: whole.max(0xffffffff),
    from: whole.max(MOST_CASES),
    cases: whole.max(MOST_CASES),
    shard: z.strictObject({
      index: z.number().int().min(1).max(MOST_SHARDS),
      of: z.number().int().min(1).max(MOST_SHARDS),
    }),
  })
  .refine(({ shard }) => shard.index <= shard.of, { path: ['shard'], message: 'there is no such shard' });
const endSchema = z.strictObject({ end: z.strictObject({ cases: whole, sha256: z.string() }) });

/** The text of a result file, line by line. */
export function* textOfResults<C extends NumberedCase>({ header, cases }: Results<C>): Generator<string> {
  const hash = createHash('sha256');
  const line = (data: unknown): string => {
    const text = `${JSON.stringify(data)}\n`;
    hash.update(text);
    return text;
  };
  yield line({ format: RESULTS_FORMAT, version: RESULTS_VERSION, ...header });
  for (const each of cases) yield line(each);
  yield `${JSON.stringify({ end: { cases: cases.length, sha256: hash.digest('hex') } })}\n`;
}

/**
 * @param pieces of the file, in order
 * @param kindOf the kinds this program knows, by name
 * @throws InputError that names the file and what is wrong with it
 */
export function readResults<C extends NumberedCase>(
  file: string,
  pieces: Iterable<Buffer>,
  kindOf: Readonly<Record<string, CampaignKind<C>>>,
): ResultsFile<C> {
  const reader = new Reader(file, kindOf);
  for (const line of linesOf(file, pieces)) reader.take(line);
  return reader.done();
}

/** Lines without their ends; what follows the last end of a line is cut off, and no line. */
function* linesOf(file: string, pieces: Iterable<Buffer>): Generator<Buffer> {
  let held: Buffer[] = [];
  let heldBytes = 0;
  let number = 1;
  for (const piece of pieces) {
    let from = 0;
    for (let at = piece.indexOf(10); at >= 0; at = piece.indexOf(10, from)) {
      yield Buffer.concat([...held, piece.subarray(from, at)]);
      held = [];
      heldBytes = 0;
      number++;
      from = at + 1;
    }
    if (from === piece.length) continue;
    // The next piece lies in the same buffer.
    held.push(Buffer.from(piece.subarray(from)));
    heldBytes += piece.length - from;
    if (heldBytes > LONGEST_LINE_BYTES)
      throw new InputError(
        `${file}:${number} is longer than any line of a result file: is it one that --out wrote?`,
      );
  }
}

class Reader<C extends NumberedCase> {
  readonly #file: string;
  readonly #kinds: Readonly<Record<string, CampaignKind<C>>>;
  readonly #hash = createHash('sha256');
  readonly #cases: C[] = [];
  #header: ResultsHeader | null = null;
  #kind: CampaignKind<C> | null = null;
  #numbers: readonly number[] = [];
  #line = 0;
  #ended = false;

  constructor(file: string, kinds: Readonly<Record<string, CampaignKind<C>>>) {
    this.#file = file;
    this.#kinds = kinds;
  }

  take(bytes: Buffer): void {
    this.#line++;
    if (this.#ended) throw this.#wrong('goes on after its last line');
    const data = this.#parse(bytes.toString('utf8'));
    if (this.#header === null) this.#begin(data);
    else if (typeof data === 'object' && data !== null && 'end' in data) {
      this.#end(data);
      return;
    } else this.#case(data);
    this.#hash.update(bytes).update('\n');
  }

  done(): ResultsFile<C> {
    if (this.#line === 0) throw new InputError(`${this.#file} is empty, or cut short in its first line`);
    if (this.#header === null || !this.#ended)
      throw new InputError(
        `${this.#file} is cut short: ${this.#cases.length} of ${this.#numbers.length} cases and no last line; run it again`,
      );
    return { file: this.#file, header: this.#header, cases: this.#cases };
  }

  #parse(text: string): unknown {
    try {
      return JSON.parse(text);
    } catch {
      throw this.#wrong(this.#line === 1 ? `is no result file: expected the JSON --out wrote` : 'is no JSON');
    }
  }

  #begin(data: unknown): void {
    const { format, version } = (data ?? {}) as { format?: unknown; version?: unknown };
    if (format !== RESULTS_FORMAT) throw this.#wrong(`is no result file: expected format ${RESULTS_FORMAT}`);
    if (version !== RESULTS_VERSION)
      throw this.#wrong(
        `is of version ${shown(version)} of the format; this program reads version ${RESULTS_VERSION}`,
      );
    const parsed = headerSchema.safeParse(data);
    if (!parsed.success) throw this.#wrong(firstIssue(parsed.error));
    // Kept as written, with its keys in their order: it will be written again.
    const { format: _, version: __, ...header } = data as z.output<typeof headerSchema>;
    const kind = Object.hasOwn(this.#kinds, header.kind) ? this.#kinds[header.kind] : undefined;
    if (kind === undefined)
      throw this.#wrong(
        `is of a campaign ${shown(header.kind)}; this program knows ${Object.keys(this.#kinds).join(', ')}`,
      );
    this.#header = header;
    this.#kind = kind;
    this.#numbers = numbersOf(header, header.shard);
  }

  #case(data: unknown): void {
    const parsed = this.#kind?.caseSchema.safeParse(data);
    if (parsed?.success === false) throw this.#wrong(firstIssue(parsed.error));
    // As written, like the first line.
    const read = data as C;
    const wanted = this.#numbers[this.#cases.length];
    if (read.index !== wanted)
      throw this.#wrong(`holds case ${shown(read.index)} where ${wanted ?? 'the last line'} is due`);
    this.#cases.push(read);
  }

  #end(data: unknown): void {
    const parsed = endSchema.safeParse(data);
    if (!parsed.success) throw this.#wrong(firstIssue(parsed.error));
    if (this.#cases.length !== this.#numbers.length)
      throw this.#wrong(
        `ends after ${this.#cases.length} cases; this shard has ${this.#numbers.length}: run it again`,
      );
    const { cases, sha256 } = parsed.data.end;
    if (cases !== this.#cases.length || sha256 !== this.#hash.digest('hex'))
      throw this.#wrong('does not fit what stands before it: the file was changed or damaged; run it again');
    this.#ended = true;
  }

  #wrong(what: string): InputError {
    return new InputError(`${this.#file}:${this.#line} ${what}`);
  }
}

const shown = (value: unknown): string => String(JSON.stringify(value)).slice(0, SHOWN_CHARS);

function firstIssue(error: z.ZodError): string {
  const [issue] = error.issues;
  return `cannot be used: ${issue?.path.join('.') || 'the line'}: ${issue?.message}`;
}
