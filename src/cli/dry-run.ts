/** `loopwarden dry-run`: a session in virtual time on the simulated bench. */
import path from 'node:path';
import type { Command } from 'commander';
import { truthColumns } from '../../simulators/truth.js';
import { createTextFile, freeName, makeFolder, newFolder } from '../host/durable-file.js';
import { runVirtual } from '../rehearsal/virtual-run.js';
import { loadRig } from '../rig/load.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { seed as seedNumber } from './numbers.js';
import { readPlan, wishAsked } from './plan-file.js';
import { complain, paint, say } from './print.js';
import { loadScenario } from './scenarios-files.js';
import { readSigning } from './signing.js';
import { tellOutcome, tellProgress } from './tell.js';

interface Options {
  readonly rig?: string;
  readonly scenario: string;
  readonly seed?: number;
  readonly out?: string;
  readonly sign?: string;
  readonly plan?: string;
  readonly json?: boolean;
}

const TRUTH_EVERY_MS = 100;

export function addDryRun(program: Command): void {
  program
    .command('dry-run')
    .description('a session in virtual time on the simulated bench')
    .option('--rig <file>', 'rig file or name of a shipped rig; the scenario names its own')
    .option('--scenario <name>', 'scenario file or name of a shipped scenario', 'clean')
    .option('--seed <n>', 'seed of the simulation', seedNumber)
    .option('--out <dir>', 'folder for journal, truth file and result; a new one below ./out otherwise')
    .option('--plan <file>', 'target and latest end from a plan; see `plan stop --out`')
    .option('--sign <file>', 'private key that signs the journal; see `keys new`')
    .option('--json', 'one JSON object')
    .action(dryRun);
}

async function dryRun(options: Options): Promise<void> {
  const drawn = loadScenario(options.scenario);
  const loaded = loadRig(options.rig ?? drawn.rig);
  const plan = options.plan === undefined ? null : readPlan(options.plan, loaded);
  const scenario = plan === null ? drawn : { ...drawn, wish: wishAsked(plan.wish) };
  const seed = options.seed ?? scenario.seed;
  const out = options.out ?? newFolder(path.join('out', `${loaded.rig.name}-${scenario.name}-seed-${seed}`));
  makeFolder(out);
  const truthPath = freeName(out, 'truth', '.csv');
  const truthFile = createTextFile(truthPath);
  truthFile.append(`${truthColumns(loaded.rig.battery.rafts.length).join(',')}\n`);
  if (!options.json) {
    say(NOTICE);
    say();
    say(paint('bold', `Dry run: ${scenario.title} (${scenario.name}) on ${loaded.rig.name}, seed ${seed}`));
    say(`${loaded.rig.title}. Simulated; no real hardware is touched.`);
    say();
  }
  const journalPath = freeName(out, 'journal', '.ndjson');
  const signing = options.sign === undefined ? undefined : readSigning(options.sign);
  const { outcome, exit, fault, head } = await runVirtual({
    loaded,
    scenario: { ...scenario, seed },
    stateDir: path.join(out, 'state'),
    journalPath,
    ...(signing ? { signing } : {}),
    ...(plan ? { planned: plan.planned } : {}),
    sink: createTextFile(journalPath),
    truth: {
      everyMs: TRUTH_EVERY_MS,
      sink: {
        row: (values) => truthFile.append(`${values.map((v) => Number(v.toPrecision(7))).join(',')}\n`),
      },
    },
    ...(options.json ? {} : { onProgress: (what, runner) => tellProgress(what, runner.session) }),
  });
  await truthFile.close();
  if (options.json) say(JSON.stringify({ ...outcome, journalHead: head }));
  else {
    tellOutcome(outcome, head);
    say(`truth of the bench    ${truthPath}`);
  }
  if (fault !== null) complain(`loopwarden itself has failed: ${fault.stack ?? fault.message}`);
  process.exitCode = fault === null ? exit : EXIT.internalFault;
}
