/** A storm: many drawn sessions on worker threads, laid together in the order of their numbers. */
import { createHash } from 'node:crypto';
import { numbersOf, type Shard, WHOLE } from '../campaign/shard.js';
import { CATALOGUE } from '../checks/catalogue.js';
import { runPool } from '../host/pool.js';
import { type NumberedResult, numbered } from './results.js';
import type { StormResult } from './run.js';
import type { Batch } from './worker.js';

/** Codes no storm can bring about, and why. */
export const NOT_OF_A_STORM: Readonly<Record<string, string>> = {
  'internal-fault': 'the program itself would have to fail; tests/sim/supervisor-fails.test.ts',
  'device-limits':
    'the drawn device always fits its rig; tests/unit/handshake.test.ts, tests/crash/ports-suite.ts',
  'unfinished-journal': 'no process is killed; tests/crash/supervisor-stops-suite.ts',
};

/** Enough for little traffic between threads, few enough that the last ones end together. */
const BATCH = 25;

export interface StormOptions {
  readonly sessions: number;
  /** Number of the first: a long storm may be run in pieces. */
  readonly from?: number;
  readonly seed: number;
  /** Only these of the sessions. */
  readonly shard?: Shard;
  readonly workers: number;
  /** @param done sessions, of how many */
  onProgress(done: number, of: number): void;
}

export interface Failure {
  readonly index: number;
  readonly result: StormResult;
}

export interface StormReport {
  readonly sessions: number;
  readonly from: number;
  readonly seed: number;
  readonly virtualS: number;
  /** The same seed and number of sessions give the same digest, whatever the number of workers. */
  readonly digest: string;
  readonly failures: readonly Failure[];
  /** Sessions by exit code, and by what ended them. */
  readonly exits: Readonly<Record<string, number>>;
  readonly ends: Readonly<Record<string, number>>;
  /** In how many sessions each code appeared. */
  readonly codes: Readonly<Record<string, number>>;
  /** Codes of the catalogue that never appeared and might have. */
  readonly unseen: readonly string[];
}

/** In the order of their numbers. */
export async function runSessions(options: StormOptions): Promise<NumberedResult[]> {
  const { sessions, from = 0, seed, shard = WHOLE, workers, onProgress } = options;
  const numbers = numbersOf({ from, cases: sessions }, shard);
  const batches: Batch[] = [];
  for (let at = 0; at < numbers.length; at += BATCH)
    batches.push({ seed, numbers: numbers.slice(at, at + BATCH) });
  const parts = await runPool<Batch, StormResult[]>(
    new URL('./worker.js', import.meta.url),
    batches,
    (done) => onProgress(Math.min(numbers.length, done * BATCH), numbers.length),
    Math.min(workers, batches.length),
  );
  return parts.flat().map((result, i) => numbered(numbers[i] as number, result));
}

export async function runStorm(options: StormOptions): Promise<StormReport> {
  return stormReport(await runSessions(options), options.seed, options.from ?? 0);
}

/** @param from number of the first session of the storm, which need not be the first of these */
export function stormReport(results: readonly NumberedResult[], seed: number, from: number): StormReport {
  const digest = createHash('sha256');
  const failures: Failure[] = [];
  const exits: Record<string, number> = {};
  const ends: Record<string, number> = {};
  const codes: Record<string, number> = {};
  let virtualS = 0;
  const count = (into: Record<string, number>, key: string): void => {
    into[key] = (into[key] ?? 0) + 1;
  };
  for (const { index, small: _, ...result } of results) {
    digest.update(result.digest);
    virtualS += result.virtualS;
    count(exits, String(result.exit));
    count(ends, result.ended);
    for (const code of result.codes) count(codes, code);
    if (result.broken.length > 0) failures.push({ index, result });
  }
  return {
    sessions: results.length,
    from,
    seed,
    virtualS,
    digest: digest.digest('hex'),
    failures,
    exits,
    ends,
    codes,
    unseen: Object.keys(CATALOGUE).filter((code) => codes[code] === undefined && !(code in NOT_OF_A_STORM)),
  };
}
