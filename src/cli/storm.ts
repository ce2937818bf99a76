/** `loopwarden storm`: many drawn sessions held against every invariant. `npm run storm` is the same. */
import { availableParallelism } from 'node:os';
import type { Command } from 'commander';
import { type Shard, WHOLE } from '../campaign/shard.js';
import { buildHash } from '../host/build.js';
import { realClock } from '../host/clock.js';
import { mustBeWritable } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { SOFTWARE } from '../host/version.js';
import { parseCase, type StormCase } from '../storm/case.js';
import { STORM_KIND, withSmallFailures } from '../storm/results.js';
import { runCase } from '../storm/run.js';
import { runSessions } from '../storm/storm.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { count, seed as seedNumber, shard } from './numbers.js';
import { paint, say } from './print.js';
import { writeResults } from './results-files.js';
import { type StormRun, tellStorm } from './storm-tell.js';

interface Options {
  readonly sessions: number;
  readonly from: number;
  readonly seed: number;
  readonly workers: number;
  readonly shard?: Shard;
  readonly out?: string;
  readonly reproduce?: string;
  readonly json?: boolean;
}

const BAR_CELLS = 30;

export function addStorm(program: Command): void {
  program
    .command('storm')
    .description('many drawn sessions with faults, unsafe orders and bad lines, held against every invariant')
    .option('--sessions <n>', 'how many', count, 1000)
    .option('--from <n>', 'number of the first: a long storm may be run in pieces', count, 0)
    .option('--seed <n>', 'the same seed gives the same sessions', seedNumber, 1)
    .option('--shard <i/n>', 'only the i-th of n parts, to be merged; needs --out', shard)
    .option('--out <file>', 'write what every session came to: see `merge` and src/campaign/RESULTS.md')
    .option('--workers <n>', 'threads', count, availableParallelism())
    .option('--reproduce <line>', 'run the one session a storm printed')
    .option('--json', 'one JSON object')
    .action(storm);
}

async function storm(options: Options): Promise<void> {
  const { sessions, from, seed, out, json = false } = options;
  mustFit(options);
  if (!json) say(`${NOTICE}\n`);
  if (options.reproduce !== undefined) return reproduce(parseCase(options.reproduce), options);
  const workers = Math.max(1, options.workers);
  const beganMs = realClock.nowMs();
  const results = await runSessions({ ...options, workers, onProgress: bar() });
  const tookS = (realClock.nowMs() - beganMs) / 1000;
  if (process.stderr.isTTY) process.stderr.write('\r\x1b[K');
  const cases = await withSmallFailures(results, seed);
  const run: StormRun = { seed, from, cases: sessions, shard: options.shard ?? WHOLE };
  if (out !== undefined) {
    const header = { kind: STORM_KIND.kind, software: SOFTWARE, build: buildHash(), ...run };
    writeResults(out, { header, cases });
  }
  process.exitCode = tellStorm(run, cases, { json, speed: { tookS, workers } });
}

/** @throws InputError when what was asked for would come to nothing, before hours are spent on it */
function mustFit({ reproduce, shard, out }: Options): void {
  if (reproduce !== undefined && (shard !== undefined || out !== undefined))
    throw new InputError('--reproduce runs one session: leave out --shard and --out');
  if (shard !== undefined && out === undefined)
    throw new InputError('--shard needs --out FILE: a part is of use once it is merged with the others');
  if (out !== undefined) mustBeWritable(out);
}

async function reproduce(drawn: StormCase, options: Options): Promise<void> {
  const result = await runCase(drawn);
  if (options.json) say(JSON.stringify(result));
  else {
    say(`ends ${result.ended}, exit ${result.exit}; codes: ${result.codes.join(', ') || 'none'}`);
    for (const { text } of result.broken) say(paint('red', text));
    if (result.broken.length === 0) say('no invariant is broken');
  }
  process.exitCode = result.broken.length === 0 ? EXIT.released : EXIT.requirementFailed;
}

/** A bar on a terminal; in a log a line at every tenth. */
function bar(): (done: number, of: number) => void {
  const beganMs = realClock.nowMs();
  let tenth = 0;
  return (done, of) => {
    const rate = done / Math.max(1e-3, (realClock.nowMs() - beganMs) / 1000);
    const words = `${done} of ${of} sessions, ${rate.toFixed(0)} a second`;
    if (process.stderr.isTTY) {
      const cells = Math.round((BAR_CELLS * done) / of);
      process.stderr.write(`\r[${'='.repeat(cells)}${' '.repeat(BAR_CELLS - cells)}] ${words} `);
    } else if (Math.floor((10 * done) / of) > tenth) {
      tenth = Math.floor((10 * done) / of);
      process.stderr.write(`${words}\n`);
    }
  };
}
