/** `loopwarden prove`: proves a charger's protections step by step, with measured times, and writes the certificate. */
import path from 'node:path';
import type { Command } from 'commander';
import { type Shard, WHOLE } from '../campaign/shard.js';
import { newFolder, writeDurably } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { RECORD, runCampaign } from '../prove/campaign.js';
import { WEAKNESSES } from '../prove/charger.js';
import { junitOf } from '../prove/junit.js';
import { loadProcedures } from '../prove/load.js';
import { type Proof, proofOf } from '../prove/proof.js';
import { loadRig } from '../rig/load.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { count, shard } from './numbers.js';
import { say } from './print.js';
import { exitOfVerdict, tellProof } from './prove-tell.js';

interface Options {
  readonly rig: string;
  readonly procedure: string;
  readonly repeat?: number;
  readonly seed: number;
  readonly out?: string;
  readonly weakened?: string;
  readonly shard?: Shard;
  readonly workers?: number;
  readonly json?: boolean;
}

export function addProve(program: Command): void {
  program
    .command('prove')
    .description('prove that every protection of a charger trips, within its time')
    .requiredOption('--rig <name|file>', 'rig')
    .option('--procedure <name|file|all>', 'procedure to run', 'all')
    .option('--repeat <n>', 'runs of each step; without it each step has its own number', count)
    .option('--seed <n>', 'of the simulated charger and the instants of its faults', count, 1)
    .option('--weakened <name>', `simulated charger with one weakness: ${Object.keys(WEAKNESSES).join(', ')}`)
    .option(
      '--shard <i/n>',
      'only every n-th run, from the i-th; `loopwarden merge` lays them together',
      shard,
    )
    .option('--out <dir>', 'folder of the proof; one that was begun there is taken up again')
    .option('--workers <n>', 'runs at once', count)
    .option('--json', 'one JSON object')
    .action(prove);
}

async function prove(options: Options): Promise<void> {
  const { rig, procedure, repeat = null, seed, shard: part = WHOLE, weakened = null, json } = options;
  if (weakened !== null && WEAKNESSES[weakened] === undefined)
    throw new InputError(`--weakened ${weakened}: expected one of ${Object.keys(WEAKNESSES).join(', ')}`);
  const loaded = loadRig(rig);
  const procedures = loadProcedures(procedure, loaded);
  const folder = options.out ?? newFolder(path.join('out', `proof-${loaded.rig.name}`));
  if (!json) say(`${NOTICE}\n`);
  const record = await runCampaign({
    ...{
      loaded,
      rig,
      procedures,
      seed,
      repeat,
      shard: part,
      weakness: weakened,
      folder,
      onProgress: progress(),
    },
    ...(options.workers ? { workers: options.workers } : {}),
  });
  const proof = proofOf(record, procedures, loaded);
  const isWhole = part.of === 1;
  if (isWhole) writeResults(proof, folder);
  if (json) say(JSON.stringify({ folder, ...proof }));
  else {
    tellProof(proof);
    say(
      isWhole
        ? `results in ${folder}: proof.json, junit.xml, journals`
        : `shard ${part.index} of ${part.of} in ${path.join(folder, RECORD)}; \`loopwarden merge\` lays them together`,
    );
  }
  process.exitCode = isWhole ? exitOfVerdict(proof.verdict) : EXIT.released;
}

/** Runs left and the time they need at the pace so far, on a terminal. */
function progress(): (done: number, of: number) => void {
  const began = process.hrtime.bigint();
  let atStart = -1;
  return (done, of) => {
    if (!process.stderr.isTTY) return;
    if (atStart < 0) atStart = done;
    const tookS = Number(process.hrtime.bigint() - began) / 1e9;
    const leftS = done > atStart ? (tookS / (done - atStart)) * (of - done) : Number.NaN;
    const time = Number.isNaN(leftS) ? '' : `, ${leftS.toFixed(0)} s left`;
    process.stderr.write(`\r${done} of ${of} runs${time}   ${done === of ? '\r' : ''}`);
  };
}

export function writeResults(proof: Proof, folder: string): void {
  writeDurably(path.join(folder, 'proof.json'), `${JSON.stringify(proof, null, 1)}\n`);
  writeDurably(path.join(folder, 'junit.xml'), junitOf(proof));
}
