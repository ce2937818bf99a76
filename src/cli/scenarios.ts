/** `loopwarden scenarios`: every scenario at its instant and at seeded variations, expected against got. */
import type { Command } from 'commander';
import type { Scenario } from '../../simulators/scenario.js';
import { withTemporaryFolder } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { runPool } from '../host/pool.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { count } from './numbers.js';
import { figure, paint, say, table } from './print.js';
import type { Result, Task } from './scenario-run.js';
import { loadScenario, shippedScenarios } from './scenarios-files.js';
import { lockWord } from './tell.js';

interface Options {
  readonly only?: string;
  readonly variations: number;
  readonly json?: boolean;
}

export function addScenarios(program: Command): void {
  program
    .command('scenarios')
    .description('every scenario, at its instant and varied, expected against got')
    .option('--only <text>', 'only scenarios whose name contains this')
    .option('--variations <n>', 'seeded variations of each, ±20 % of instant and magnitude', count, 5)
    .option('--json', 'one JSON object')
    .action(scenarios);
}

async function scenarios(options: Options): Promise<void> {
  const names = shippedScenarios().filter((n) => n.includes(options.only ?? ''));
  if (names.length === 0) throw new InputError(`--only ${options.only}: no scenario has that in its name`);
  // All are read before any is run: a bad file is told at once.
  const declared = new Map(names.map((n) => [n, loadScenario(n)]));
  if (!options.json) say(`${NOTICE}\n`);
  const results = await withTemporaryFolder((folder) => {
    const tasks: Task[] = names.flatMap((name) =>
      Array.from({ length: options.variations + 1 }, (_, variation) => ({
        name,
        variation,
        folder,
        audited: variation === 0,
      })),
    );
    const progress = (done: number): void => {
      if (process.stderr.isTTY) process.stderr.write(`\r${done} of ${tasks.length} runs `);
    };
    return runPool<Task, Result>(new URL('./scenario-worker.js', import.meta.url), tasks, progress);
  });
  if (process.stderr.isTTY) process.stderr.write('\r');
  const wrong = results.filter((r) => r.wrong.length > 0);
  if (options.json) say(JSON.stringify({ runs: results.length, wrong: wrong.length, results }));
  else {
    const rows = names.map((n) =>
      rowOf(
        declared.get(n)!,
        results.filter((r) => r.name === n),
      ),
    );
    say(table(['scenario', 'expected', 'got', 'detected, ms', 'end state', 'as expected'], rows, [3]));
    say();
    for (const r of wrong)
      say(`${paint('red', r.name)}, variation ${r.variation} (seed ${r.seed}): ${r.wrong.join('; ')}`);
    const audited = results.flatMap(({ compared }) => compared ?? []);
    const sum = (of: 'margins' | 'extremes'): number => audited.reduce((n, compared) => n + compared[of], 0);
    say(
      `${audited.length} audits: ${sum('margins')} margins and ${sum('extremes')} extremes held against the bench`,
    );
    say(`${results.length} runs of ${names.length} scenarios, ${wrong.length} not as expected`);
  }
  process.exitCode = wrong.length === 0 ? EXIT.released : EXIT.requirementFailed;
}

function rowOf(declared: Scenario, runs: readonly Result[]): string[] {
  const { expect } = declared;
  const { outcome, exit } = runs[0]!;
  const words = (o: string, code: string | undefined, phase: string | undefined, e: number): string =>
    [o, code, phase === undefined ? undefined : `in ${phase}`, `exit ${e}`]
      .filter((w) => w !== undefined)
      .join(' ');
  const code = outcome.trip?.code ?? outcome.refusals[0]?.code ?? outcome.endReason;
  const phase = outcome.trip?.phase ?? (outcome.outcome === 'refused' ? 'parked' : undefined);
  const expected = expect.outcome === 'released' ? expect.endReason : (expect.code ?? expect.endReason);
  const times = runs.map((r) => r.outcome.trip?.fromInjectionMs).filter((t) => typeof t === 'number');
  const { polesProvenOpen, outputDead, plugDead } = outcome.endState;
  const state = [
    polesProvenOpen ? 'poles open' : 'POLES NOT PROVEN',
    outputDead ? 'output dead' : 'OUTPUT NOT PROVEN',
    plugDead ? 'plug dead' : 'PLUG NOT PROVEN',
    lockWord(outcome),
  ].join(', ');
  const good = runs.filter((r) => r.wrong.length === 0).length;
  return [
    declared.name,
    words(expect.outcome, expected, expect.phase, expect.exit),
    words(outcome.outcome, code, phase, exit),
    times.length === 0 ? '' : `${figure(Math.min(...times))}–${figure(Math.max(...times))}`,
    outcome.outcome === 'refused' ? 'nothing ordered' : state,
    paint(good === runs.length ? 'green' : 'red', `${good}/${runs.length}`),
  ];
}
