/** What a storm came to, for people and as JSON: the same words from a run and from merged results. */
import type { Shard, Stretch } from '../campaign/shard.js';
import { CATALOGUE } from '../checks/catalogue.js';
import type { NumberedResult } from '../storm/results.js';
import { NOT_OF_A_STORM, type StormReport, stormReport } from '../storm/storm.js';
import { EXIT } from '../supervisor/outcome.js';
import { figure, paint, printable, say, table } from './print.js';

const LISTED = 40;

/** Which sessions, out of which storm. */
export interface StormRun extends Stretch {
  readonly seed: number;
  readonly shard: Shard;
}

/** Only a run has a speed; it is no result. */
export interface Speed {
  readonly tookS: number;
  readonly workers: number;
}

/** @returns the exit code the storm stands for */
export function tellStorm(
  run: StormRun,
  results: readonly NumberedResult[],
  { json, speed }: { readonly json: boolean; readonly speed?: Speed },
): number {
  const report = stormReport(results, run.seed, run.from);
  const failed = results.filter((each) => each.small !== undefined);
  if (json) {
    const shard = run.shard.of > 1 ? { shard: run.shard } : {};
    say(JSON.stringify({ ...report, ...shard, ...speed, reproduce: failed.map((f) => f.small?.case) }));
  } else {
    tell(report, run, speed);
    for (const each of failed) tellFailure(each);
  }
  return report.failures.length === 0 ? EXIT.released : EXIT.requirementFailed;
}

function tell(report: StormReport, { from, cases, shard }: StormRun, speed: Speed | undefined): void {
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
  if (speed !== undefined) tellSpeed(report, speed);
  say(`digest                ${report.digest} (seed ${report.seed})`);
  if (shard.of > 1)
    say(`shard                 ${shard.index} of ${shard.of}, of ${cases} sessions from ${from} on`);
  const words = `${report.sessions} sessions, ${failures.length} with a broken invariant`;
  say(failures.length === 0 ? words : paint('red', words));
  for (const { index, result } of failures.slice(0, LISTED))
    say(`  session ${index}: ${lines(result.broken[0]?.text)}`);
}

function tellSpeed({ sessions, virtualS }: StormReport, { tookS, workers }: Speed): void {
  say(
    `speed                 ${figure(sessions / tookS)} sessions a second on ${workers} workers, ` +
      `${figure(virtualS / tookS)} times real time; ${figure(virtualS / sessions)} s a session`,
  );
}

function tellFailure({ index, small }: NumberedResult): void {
  say();
  say(paint('red', `session ${index}, made small:`));
  for (const { text } of small?.broken ?? []) say(`  ${lines(text)}`);
  say(`  npm run storm -- --reproduce '${JSON.stringify(small?.case)}'`);
}

/** A stack trace has several. */
const lines = (text = ''): string => text.split('\n').map(printable).join('\n');
