/**
 * Lays shards and pieces of one campaign together: exactly what the undivided run would have come to, or a message
 * that says what keeps these files apart.
 */
import { InputError } from '../host/input-error.js';
import { MOST_CASES, type NumberedCase, type Results, type ResultsFile } from './results.js';
import { WHOLE } from './shard.js';

/** Missing ones named at most. */
const NAMED = 12;
/** What may differ between files of one campaign; all else must agree. */
const DIFFERS: ReadonlySet<string> = new Set(['from', 'cases', 'shard']);

/** The files that cut one stretch of cases into the same number of shards. */
interface Piece<C extends NumberedCase> {
  readonly from: number;
  readonly cases: number;
  readonly of: number;
  readonly files: readonly ResultsFile<C>[];
}

/** @throws InputError when they do not belong together, or one is missing or there twice */
export function mergeResults<C extends NumberedCase>(files: readonly ResultsFile<C>[]): Results<C> {
  const [first] = files;
  if (first === undefined) throw new InputError('merge: no file was given');
  for (const other of files) mustAgree(first, other);
  const pieces = piecesOf(files);
  for (const piece of pieces) mustNotRepeat(piece);
  for (const [i, piece] of pieces.entries()) mustNotOverlap(pieces[i - 1], piece);
  for (const piece of pieces) mustBeWhole(piece);
  for (const [i, piece] of pieces.entries()) mustFollow(pieces[i - 1], piece);
  const from = pieces[0]?.from ?? 0;
  const cases = pieces.reduce((sum, piece) => sum + piece.cases, 0);
  if (cases > MOST_CASES)
    throw new InputError(`these files hold ${cases} cases together; at most ${MOST_CASES} are merged`);
  const merged = new Array<C>(cases);
  for (const file of files) for (const each of file.cases) merged[each.index - from] = each;
  return { header: { ...first.header, from, cases, shard: WHOLE }, cases: merged };
}

function mustAgree(a: ResultsFile<NumberedCase>, b: ResultsFile<NumberedCase>): void {
  const [one, other] = [a.header, b.header].map((h) => h as unknown as Record<string, unknown>);
  for (const key of new Set([...Object.keys(one ?? {}), ...Object.keys(other ?? {})])) {
    if (DIFFERS.has(key)) continue;
    const [here, there] = [told(one?.[key]), told(other?.[key])];
    if (here === there) continue;
    throw apart(`${a.file} is of ${key} ${here}, ${b.file} of ${key} ${there}`);
  }
}

const told = (value: unknown): string =>
  typeof value === 'string' ? value : value === undefined ? '(none)' : JSON.stringify(value);
const apart = (why: string): InputError => new InputError(`these files do not belong together: ${why}`);

function piecesOf<C extends NumberedCase>(files: readonly ResultsFile<C>[]): Piece<C>[] {
  const pieces = new Map<string, Piece<C> & { readonly files: ResultsFile<C>[] }>();
  for (const file of files) {
    const { from, cases, shard } = file.header;
    const key = `${from} ${cases} ${shard.of}`;
    const piece = pieces.get(key) ?? { from, cases, of: shard.of, files: [] };
    piece.files.push(file);
    pieces.set(key, piece);
  }
  return [...pieces.values()].sort((a, b) => a.from - b.from || a.cases - b.cases || a.of - b.of);
}

function mustNotRepeat({ files, of }: Piece<NumberedCase>): void {
  const seen = new Map<number, string>();
  for (const { file, header } of files) {
    const { index } = header.shard;
    const before = seen.get(index);
    if (before !== undefined)
      throw new InputError(`${shardWords([index], of)} is there twice: ${before} and ${file}`);
    seen.set(index, file);
  }
}

function mustNotOverlap(before: Piece<NumberedCase> | undefined, piece: Piece<NumberedCase>): void {
  if (before === undefined || before.from + before.cases <= piece.from) return;
  const [a, b] = [before.files[0]?.file, piece.files[0]?.file];
  if (before.from === piece.from && before.cases === piece.cases)
    throw apart(`${a} is ${part(before)}, ${b} ${part(piece)}, of the same ${stretch(piece)}`);
  throw apart(`${a} is of ${stretch(before)}, ${b} of ${stretch(piece)}, which overlap`);
}

const part = ({ of }: Piece<NumberedCase>): string =>
  of === 1 ? 'the undivided run' : `one of ${of} shards`;

function mustBeWhole(piece: Piece<NumberedCase>): void {
  const { files, of } = piece;
  if (files.length === of) return;
  const there = new Set(files.map(({ header }) => header.shard.index));
  const missing = Array.from({ length: of }, (_, i) => i + 1).filter((index) => !there.has(index));
  const words = `${shardWords(missing, of)} of ${stretch(piece)}`;
  throw new InputError(
    `${words} ${missing.length === 1 ? 'is' : 'are'} missing: only the whole can be merged`,
  );
}

function mustFollow(before: Piece<NumberedCase> | undefined, piece: Piece<NumberedCase>): void {
  if (before === undefined) return;
  const from = before.from + before.cases;
  if (from === piece.from) return;
  const gap = stretch({ from, cases: piece.from - from });
  throw new InputError(`${gap} are missing between ${before.files[0]?.file} and ${piece.files[0]?.file}`);
}

/** `shard 2 of 3`, `shards 1 and 3 of 3` */
function shardWords(indexes: readonly number[], of: number): string {
  const named = indexes.slice(0, NAMED).map(String);
  const more = indexes.length - named.length;
  const last = more > 0 ? `${more} more` : named.pop();
  return named.length === 0 ? `shard ${last} of ${of}` : `shards ${named.join(', ')} and ${last} of ${of}`;
}

const stretch = ({ from, cases }: { readonly from: number; readonly cases: number }): string =>
  cases === 0 ? `no cases from ${from}` : `cases ${from} to ${from + cases - 1}`;
