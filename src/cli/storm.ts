/** `loopwarden storm`: many drawn sessions held against every invariant. `npm run storm` is the same. */
import { availableParallelism } from 'node:os';
import type { Command } from 'commander';
import { CATALOGUE } from '../checks/catalogue.js';
import { realClock } from '../host/clock.js';
import { parseCase, type StormCase } from '../storm/case.js';
import { drawCase } from '../storm/draw.js';
import { runCase, type StormResult } from '../storm/run.js';
import { shrink } from '../storm/shrink.js';
import { NOT_OF_A_STORM, runStorm, type StormReport } from '../storm/storm.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { count, seed as seedNumber } from './numbers.js';
import { figure, paint, say, table } from './print.js';

interface Options {
  readonly sessions: number;
  readonly from: number;
  readonly seed: number;
  readonly workers: number;
  readonly reproduce?: string;
  readonly json?: boolean;
}

/** Failures that are made small and told in full; the rest are counted. */
const TOLD_IN_FULL = 3;
const LISTED = 40;
const BAR_CELLS = 30;

export function addStorm(program: Command): void {
  program
    .command('storm')
    .description('many drawn sessions with faults, unsafe orders and bad lines, held against every invariant')
    .option('--sessions <n>', 'how many', count, 1000)
    .option('--from <n>', 'number of the first: a long storm may be run in pieces', count, 0)
    .option('--seed <n>', 'the same seed gives the same sessions', seedNumber, 1)
    .option('--workers <n>', 'threads', count, availableParallelism())
    .option('--reproduce <line>', 'run the one session a storm printed')
    .option('--json', 'one JSON object')
    .action(storm);
}

async function storm(options: Options): Promise<void> {
  if (!options.json) say(`${NOTICE}\n`);
  if (options.reproduce !== undefined) return reproduce(parseCase(options.reproduce), options);
  const beganMs = realClock.nowMs();
  const report = await runStorm({
    ...options,
    workers: Math.max(1, options.workers),
    onProgress: bar(options),
  });
  const tookS = (realClock.nowMs() - beganMs) / 1000;
  if (process.stderr.isTTY) process.stderr.write('\r\x1b[K');
  const told = await explain(report);
  if (options.json)
    say(JSON.stringify({ ...report, tookS, workers: options.workers, reproduce: told.map((t) => t.small) }));
  else tell(report, tookS, options.workers);
  if (!options.json) for (const t of told) tellFailure(t.index, t.small, t.result);
  process.exitCode = report.failures.length === 0 ? EXIT.released : EXIT.requirementFailed;
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
function bar({ sessions }: Options): (done: number) => void {
  const beganMs = realClock.nowMs();
  let tenth = 0;
  return (done) => {
    const rate = done / Math.max(1e-3, (realClock.nowMs() - beganMs) / 1000);
    const words = `${done} of ${sessions} sessions, ${rate.toFixed(0)} a second`;
    if (process.stderr.isTTY) {
      const cells = Math.round((BAR_CELLS * done) / sessions);
      process.stderr.write(`\r[${'='.repeat(cells)}${' '.repeat(BAR_CELLS - cells)}] ${words} `);
    } else if (Math.floor((10 * done) / sessions) > tenth) {
      tenth = Math.floor((10 * done) / sessions);
      process.stderr.write(`${words}\n`);
    }
  };
}

interface Told {
  readonly index: number;
  readonly small: StormCase;
  readonly result: StormResult;
}

async function explain({ failures, seed }: StormReport): Promise<Told[]> {
  const told: Told[] = [];
  for (const { index, result } of failures.slice(0, TOLD_IN_FULL)) {
    const { small, result: shrunk } = await shrink(drawCase(seed, index), result);
    told.push({ index, small, result: shrunk });
  }
  return told;
}

function tellFailure(index: number, small: StormCase, result: StormResult): void {
  say();
  say(paint('red', `session ${index}, made small:`));
  for (const { text } of result.broken) say(`  ${text}`);
  say(`  npm run storm -- --reproduce '${JSON.stringify(small)}'`);
}

function tell(report: StormReport, tookS: number, workers: number): void {
  const { codes, exits, unseen, failures } = report;
  const rows = Object.entries(codes)
    .sort((a, b) => b[1] - a[1])
    .map(([code, n]) => [code, CATALOGUE[code as keyof typeof CATALOGUE]?.effect ?? '', String(n)]);
  say(table(['code', 'effect', 'sessions'], rows, [2]));
  say();
  say(`codes never seen      ${unseen.length === 0 ? 'none' : unseen.join(', ')}`);
  for (const [code, why] of Object.entries(NOT_OF_A_STORM)) say(`not of a storm        ${code}: ${why}`);
  say(
    `exits                 ${Object.entries(exits)
      .map(([code, n]) => `${code}: ${n}`)
      .join(', ')}`,
  );
  say(
    `speed                 ${figure(report.sessions / tookS)} sessions a second on ${workers} workers, ` +
      `${figure(report.virtualS / tookS)} times real time; ${figure(report.virtualS / report.sessions)} s a session`,
  );
  say(`digest                ${report.digest} (seed ${report.seed})`);
  const words = `${report.sessions} sessions, ${failures.length} with a broken invariant`;
  say(failures.length === 0 ? words : paint('red', words));
  for (const { index, result } of failures.slice(0, LISTED))
    say(`  session ${index}: ${result.broken[0]?.text}`);
}
