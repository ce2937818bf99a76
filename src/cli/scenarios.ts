/** `loopwarden scenarios`: every scenario at its instant and at seeded variations, expected against got. */
import path from 'node:path';
import type { Command } from 'commander';
import { type Scenario, vary } from '../../simulators/scenario.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { withTemporaryFolder } from '../host/durable-file.js';
import { loadRig } from '../rig/load.js';
import { EXIT } from '../supervisor/outcome.js';
import { deviations } from './judge.js';
import { NOTICE } from './notice.js';
import { figure, paint, say, table } from './print.js';
import { loadScenario, shippedScenarios } from './scenarios-files.js';
import { runVirtual, type VirtualRun } from './virtual-run.js';

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
    .option('--variations <n>', 'seeded variations of each, ±20 % of instant and magnitude', Number, 5)
    .option('--json', 'one JSON object')
    .action(scenarios);
}

export interface Varied {
  readonly scenario: Scenario;
  readonly k: number;
  readonly run: VirtualRun;
  readonly wrong: readonly string[];
}

/** Runs one variation (0 is the scenario itself) and holds it against declaration and truth. */
export async function runVaried(declared: Scenario, k: number, stateDir: string): Promise<Varied> {
  const scenario = vary(declared, k, new SeededRandom(declared.seed).fork(`variation ${k}`));
  const run = await runVirtual({
    loaded: loadRig(scenario.rig),
    scenario,
    stateDir,
    journalPath: 'none',
    sink: { append: () => {}, close: async () => {} },
  });
  return { scenario, k, run, wrong: deviations(declared.expect, run) };
}

async function scenarios(options: Options): Promise<void> {
  const names = shippedScenarios().filter((n) => n.includes(options.only ?? ''));
  if (!options.json) say(`${NOTICE}\n`);
  const rows: string[][] = [];
  const all: Varied[] = [];
  await withTemporaryFolder(async (folder) => {
    for (const [i, name] of names.entries()) {
      const declared = loadScenario(name);
      const runs: Varied[] = [];
      for (let k = 0; k <= options.variations; k++)
        runs.push(await runVaried(declared, k, path.join(folder, `${name}-${k}`)));
      all.push(...runs);
      rows.push(rowOf(declared, runs));
      if (process.stderr.isTTY) process.stderr.write(`\r${i + 1} of ${names.length} scenarios `);
    }
  });
  if (process.stderr.isTTY) process.stderr.write('\r');
  const wrong = all.filter((v) => v.wrong.length > 0);
  if (options.json) {
    const results = all.map(({ scenario, k, run, wrong: w }) => ({
      scenario: scenario.name,
      variation: k,
      exit: run.exit,
      wrong: w,
      outcome: run.outcome,
    }));
    say(JSON.stringify({ runs: all.length, wrong: wrong.length, results }));
  } else {
    say(table(['scenario', 'expected', 'got', 'detected, ms', 'end state', 'as expected'], rows, [3]));
    say();
    for (const v of wrong)
      say(
        `${paint('red', v.scenario.name)}, variation ${v.k} (seed ${v.scenario.seed}): ${v.wrong.join('; ')}`,
      );
    say(`${all.length} runs of ${names.length} scenarios, ${wrong.length} not as expected`);
  }
  process.exitCode = wrong.length === 0 ? EXIT.released : EXIT.requirementFailed;
}

function rowOf(declared: Scenario, runs: readonly Varied[]): string[] {
  const { expect } = declared;
  const first = runs[0]!.run;
  const { outcome, exit } = first;
  const words = (o: string, code: string | undefined, phase: string | undefined, e: number): string =>
    [o, code, phase === undefined ? undefined : `in ${phase}`, `exit ${e}`]
      .filter((w) => w !== undefined)
      .join(' ');
  const code = outcome.trip?.code ?? outcome.refusals[0]?.code ?? outcome.endReason;
  const phase = outcome.trip?.phase ?? (outcome.outcome === 'refused' ? 'parked' : undefined);
  const times = runs.map((r) => r.run.outcome.trip?.fromInjectionMs).filter((t) => typeof t === 'number');
  const { polesProvenOpen, outputDead, plugDead, plugLocked } = outcome.endState;
  const state = [
    polesProvenOpen ? 'poles open' : 'POLES NOT PROVEN',
    outputDead ? 'output dead' : 'OUTPUT NOT PROVEN',
    plugDead ? 'plug dead' : 'PLUG NOT PROVEN',
    plugLocked ? 'locked' : 'free',
  ].join(', ');
  const good = runs.filter((r) => r.wrong.length === 0).length;
  return [
    declared.name,
    words(expect.outcome, expect.code ?? expect.endReason, expect.phase, expect.exit),
    words(outcome.outcome, code, phase, exit),
    times.length === 0 ? '' : `${figure(Math.min(...times))}–${figure(Math.max(...times))}`,
    state,
    paint(good === runs.length ? 'green' : 'red', `${good}/${runs.length}`),
  ];
}
