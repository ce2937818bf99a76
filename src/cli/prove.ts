/** `loopwarden prove`: proves a charger's protections step by step, with measured times, and writes the certificate. */
import path from 'node:path';
import type { Command } from 'commander';
import { newFolder, writeDurably } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { RECORD, runCampaign } from '../prove/campaign.js';
import { WEAKNESSES } from '../prove/charger.js';
import { junitOf } from '../prove/junit.js';
import { loadProcedures, onlyStep } from '../prove/load.js';
import type { Shard } from '../prove/plan.js';
import { type Proof, proofOf, type StepResult } from '../prove/proof.js';
import type { Verdict } from '../prove/verdict.js';
import { loadRig } from '../rig/load.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { count } from './numbers.js';
import { figure, paint, say, table } from './print.js';

interface Options {
  readonly rig: string;
  readonly procedure: string;
  readonly step?: string;
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
    .option('--step <name>', 'only this step')
    .option('--repeat <n>', 'runs of each step; without it each step has its own number', count)
    .option('--seed <n>', 'of the simulated charger and the instants of its faults', count, 1)
    .option('--weakened <name>', `simulated charger with one weakness: ${Object.keys(WEAKNESSES).join(', ')}`)
    .option(
      '--shard <i/n>',
      'only every n-th run, from the i-th; `loopwarden merge` joins the folders',
      shardOf,
    )
    .option('--out <dir>', 'folder of the proof; one that was begun there is taken up again')
    .option('--workers <n>', 'runs at once', count)
    .option('--json', 'one JSON object')
    .action(prove);
}

function shardOf(text: string): Shard {
  const [, i, n] = /^(\d{1,4})\/(\d{1,4})$/.exec(text) ?? [];
  const shard = { index: Number(i), of: Number(n) };
  if (!(shard.index >= 1 && shard.index <= shard.of))
    throw new InputError(`--shard ${text}: expected i/n with i from 1 to n, such as 1/3`);
  return shard;
}

const EXITS: Readonly<Record<Verdict, number>> = {
  pass: EXIT.released,
  'not-applicable': EXIT.inconclusive,
  inconclusive: EXIT.inconclusive,
  fail: EXIT.requirementFailed,
};

async function prove(options: Options): Promise<void> {
  const { rig, procedure, step = null, repeat = null, seed, shard = null, weakened = null, json } = options;
  if (weakened !== null && WEAKNESSES[weakened] === undefined)
    throw new InputError(`--weakened ${weakened}: expected one of ${Object.keys(WEAKNESSES).join(', ')}`);
  const loaded = loadRig(rig);
  const all = loadProcedures(procedure, loaded);
  const procedures = step === null ? all : onlyStep(all, step);
  const folder = options.out ?? newFolder(path.join('out', `proof-${loaded.rig.name}`));
  if (!json) say(`${NOTICE}\n`);
  const record = await runCampaign({
    ...{
      loaded,
      rig,
      procedures,
      seed,
      repeat,
      step,
      shard,
      weakness: weakened,
      folder,
      onProgress: progress(),
    },
    ...(options.workers ? { workers: options.workers } : {}),
  });
  const proof = proofOf(record, procedures, loaded);
  if (shard === null) writeResults(proof, folder);
  if (json) say(JSON.stringify({ folder, ...proof }));
  else tell(proof, folder, shard !== null);
  process.exitCode = shard === null ? EXITS[proof.verdict] : EXIT.released;
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

const WORDS: Readonly<Record<Verdict, string>> = {
  pass: 'passed',
  fail: 'FAILED',
  inconclusive: 'inconclusive',
  'not-applicable': 'not applicable',
};
const STYLE = { pass: 'green', fail: 'red', inconclusive: 'yellow', 'not-applicable': 'dim' } as const;

function tell(proof: Proof, folder: string, isShard: boolean): void {
  for (const { name, title, steps } of proof.procedures) {
    say(`${paint('bold', name)}  ${title}`);
    say(
      table(
        ['step', 'measured', 'worst', 'limit', 'n', 'acted first', 'verdict'],
        steps.flatMap(rowsOf),
        [2, 3, 4],
      ),
    );
    for (const s of steps)
      for (const d of s.deviations.slice(0, 3)) say(paint('red', `  ${s.step}, run ${d.repeat}: ${d.text}`));
    say();
  }
  if (isShard) say(`${path.join(folder, RECORD)}: this shard; \`loopwarden merge\` joins them`);
  else {
    say(`${paint(STYLE[proof.verdict], WORDS[proof.verdict].toUpperCase())}: ${countsOf(proof)}`);
    say(`results in ${folder}: proof.json, junit.xml, journals`);
  }
}

function countsOf({ procedures }: Proof): string {
  const steps = procedures.flatMap((p) => p.steps);
  const of = (verdict: Verdict): number => steps.filter((s) => s.verdict === verdict).length;
  return (['pass', 'fail', 'inconclusive', 'not-applicable'] as const)
    .filter((v) => of(v) > 0)
    .map((v) => `${of(v)} ${WORDS[v].toLowerCase()}`)
    .join(', ');
}

function rowsOf({ step, measures, first, verdict, runs }: StepResult): string[][] {
  const who = Object.entries(first)
    .map(([name, times]) => (times === runs ? name : `${name} (${times})`))
    .join(', ');
  if (measures.length === 0) return [[step, '', '', '', '', '', paint(STYLE[verdict], WORDS[verdict])]];
  return measures.map((m, k) => [
    k === 0 ? step : '',
    m.name,
    m.worst === null ? 'not seen' : `${figure(m.worst)} ${m.unit}`,
    [
      ...(m.atMost === null ? [] : [`≤ ${figure(m.atMost)}`]),
      ...(m.atLeast === null ? [] : [`≥ ${figure(m.atLeast)}`]),
    ].join(' '),
    String(m.spread?.n ?? 0),
    k === 0 ? who : '',
    k === 0 ? paint(STYLE[verdict], WORDS[verdict]) : '',
  ]);
}
