/** `loopwarden prove`: proves a charger's protections step by step, with measured times, and writes the certificate. */
import path from 'node:path';
import type { Command } from 'commander';
import { SIMULATED_IDENTITY } from '../../simulators/device.js';
import { type Shard, WHOLE } from '../campaign/shard.js';
import { realClock } from '../host/clock.js';
import { newFolder, writeDurably } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { CALIBRATION_MONTHS, type DatedProof, dated, refuseUndated } from '../prove/calibration.js';
import { type CampaignOptions, RECORD, runCampaign } from '../prove/campaign.js';
import { certificateOf } from '../prove/certificate/certificate.js';
import { WEAKNESSES } from '../prove/charger.js';
import { junitOf } from '../prove/junit.js';
import { loadProcedures, onlyStep } from '../prove/load.js';
import { proofOf, proofText } from '../prove/proof.js';
import { type LoadedRig, loadRig } from '../rig/load.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE, NOTICE_LINES } from './notice.js';
import { count, countFromOne, shard } from './numbers.js';
import { collect, pathsOf } from './ports.js';
import { say } from './print.js';
import { realRuns } from './prove-real.js';
import { exitOfVerdict, tellProof } from './prove-tell.js';

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
  readonly port: string[];
  readonly faultBox?: string;
  readonly by?: string;
  readonly state?: string;
  readonly calibrationMonths: number;
  readonly json?: boolean;
}

export function addProve(program: Command): void {
  program
    .command('prove')
    .description('prove that every protection of a charger trips, within its time')
    .requiredOption('--rig <name|file>', 'rig')
    .option('--procedure <name|file|all>', 'procedure to run', 'all')
    .option('--step <name>', 'only this step')
    .option('--repeat <n>', 'runs of each step; without it each step has its own number', countFromOne)
    .option('--seed <n>', 'of the simulated charger and the instants of its faults', count, 1)
    .option('--weakened <name>', `simulated charger with one weakness: ${Object.keys(WEAKNESSES).join(', ')}`)
    .option(
      '--shard <i/n>',
      'only every n-th run, from the i-th; `loopwarden merge` lays them together',
      shard,
    )
    .option('--out <dir>', 'folder of the proof; one that was begun there is taken up again')
    .option('--workers <n>', 'runs at once on the simulated charger', countFromOne)
    .option('--port <path>', 'a real charger: serial port; name=PATH and repeated for several', collect, [])
    .option('--fault-box <path>', 'serial port of a fault box; without one faults are made by hand')
    .option('--by <name>', 'who proves a real charger, and acknowledges the trips that are provoked')
    .option('--state <dir>', 'folder of the trip latches of a real charger')
    .option(
      '--calibration-months <n>',
      'how long a calibration counts; what is older leaves the proof inconclusive',
      countFromOne,
      CALIBRATION_MONTHS,
    )
    .option('--json', 'one JSON object')
    .action(prove);
}

async function prove(options: Options): Promise<void> {
  const { rig, procedure, step = null, repeat = null, seed, weakened = null, json } = options;
  const part = options.shard ?? WHOLE;
  if (weakened !== null && WEAKNESSES[weakened] === undefined)
    throw new InputError(`--weakened ${weakened}: expected one of ${Object.keys(WEAKNESSES).join(', ')}`);
  const loaded = loadRig(rig);
  const all = loadProcedures(procedure, loaded);
  const procedures = step === null ? all : onlyStep(all, step);
  if (options.port.length === 0) refuseUndated([SIMULATED_IDENTITY]);
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
      shard: part,
      weakness: weakened,
      folder,
      onProgress: progress(),
    },
    ...(options.workers ? { workers: options.workers } : {}),
    ...realOf(options, loaded, folder),
  });
  const proof = dated(proofOf(record, procedures, loaded), realClock.wallMs(), options.calibrationMonths);
  const isWhole = part.of === 1;
  if (isWhole) await writeResults(proof, loaded, folder);
  if (json) say(JSON.stringify({ folder, ...proof }));
  else {
    tellProof(proof, proof.doubts);
    say(
      isWhole
        ? `results in ${folder}: certificate.html, proof.json, junit.xml, journals`
        : `shard ${part.index} of ${part.of} in ${path.join(folder, RECORD)}; \`loopwarden merge\` lays them together`,
    );
  }
  process.exitCode = isWhole ? exitOfVerdict(proof.verdict) : EXIT.released;
}

/** @throws InputError where a real charger is asked for by halves */
function realOf(options: Options, loaded: LoadedRig, folder: string): Pick<CampaignOptions, 'real'> {
  const { port: ports, faultBox, by, state, weakened, json } = options;
  if (ports.length === 0) {
    if (faultBox !== undefined || by !== undefined)
      throw new InputError('--fault-box and --by are for a real charger: give its --port');
    return {};
  }
  pathsOf(ports, loaded.rig);
  if (weakened !== undefined) throw new InputError('--weakened is a simulated charger: leave out --port');
  if (by === undefined || by.trim() === '')
    throw new InputError('--by NAME is needed: trips are provoked and acknowledged in the name of a person');
  const proof = { loaded, ports, faultBox, by, state, folder, quiet: json === true };
  return { real: { charger: ports.join(' '), doRuns: realRuns(proof) } };
}

/** Runs left and the time they need at the pace so far, on a terminal. */
function progress(): (done: number, of: number) => void {
  const beganMs = realClock.nowMs();
  let atStart = -1;
  return (done, of) => {
    if (!process.stderr.isTTY) return;
    if (atStart < 0) atStart = done;
    const tookS = (realClock.nowMs() - beganMs) / 1000;
    const leftS = done > atStart ? (tookS / (done - atStart)) * (of - done) : Number.NaN;
    const time = Number.isNaN(leftS) ? '' : `, ${leftS.toFixed(0)} s left`;
    process.stderr.write(`\r${done} of ${of} runs${time}   ${done === of ? '\r' : ''}`);
  };
}

async function writeResults(proof: DatedProof, loaded: LoadedRig, folder: string): Promise<void> {
  const certificate = await certificateOf({ proof, loaded, notice: NOTICE_LINES });
  writeDurably(path.join(folder, 'proof.json'), proofText(proof));
  writeDurably(path.join(folder, 'junit.xml'), junitOf(proof, proof.doubts));
  writeDurably(path.join(folder, 'certificate.html'), certificate);
}
