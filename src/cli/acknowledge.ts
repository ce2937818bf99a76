/** `loopwarden acknowledge`: a named person clears the trip latch, with the cause gone and everything proven dead. */
import type { Command } from 'commander';
import { NO_WISH } from '../checks/check.js';
import { realClock } from '../host/clock.js';
import { InputError } from '../host/input-error.js';
import { LatchFile } from '../journal/latch.js';
import { loadRig } from '../rig/load.js';
import { EXIT, type Refusal, refusalOf } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { collect } from './ports.js';
import { say } from './print.js';
import { runReal, stateFolder } from './real-session.js';
import { type Protection, protectedBy, protection } from './signing.js';
import { tellProgress } from './tell.js';

interface Options extends Protection {
  readonly rig: string;
  readonly by: string;
  readonly port: string[];
  readonly state?: string;
  readonly measuredDead?: boolean;
  readonly json?: boolean;
}

export function addAcknowledge(program: Command): void {
  protectedBy(program.command('acknowledge'))
    .description(
      'clear the trip latch of a rig, by name; refused while the cause is present or anything may be live',
    )
    .requiredOption('--rig <file>', 'rig file or name of a shipped rig')
    .requiredOption('--by <name>', 'who has found the cause and vouches for it')
    .option(
      '--port <path>',
      'serial port of the device, to read its state and clear its latch too',
      collect,
      [],
    )
    .option('--state <dir>', 'folder of the trip latches; the user state folder otherwise')
    .option(
      '--measured-dead',
      'I have measured output and plug dead by hand, with a voltmeter proven before and after',
    )
    .option('--json', 'one JSON object')
    .action(acknowledge);
}

async function acknowledge(options: Options): Promise<void> {
  if (options.by.trim() === '')
    throw new InputError('--by: a name is needed; nobody acknowledges anonymously');
  // By the record alone no session is run, and none is written down.
  if (options.port.length === 0 && (options.sign !== undefined || options.headFile !== undefined))
    throw new InputError('--sign and --head-file protect a journal: without --port none is written');
  const loaded = loadRig(options.rig);
  if (!options.json) say(`${NOTICE}\n`);
  const { acknowledged, refusals } =
    options.port.length > 0 ? await withDevice(options, loaded) : onDisk(options, loaded.rig.name);
  if (options.json) say(JSON.stringify({ acknowledged, by: options.by, rig: loaded.rig.name, refusals }));
  else if (acknowledged) say(`Acknowledged by ${options.by}: the latch of ${loaded.rig.name} is cleared.`);
  else say('Not acknowledged: the latch stands.');
  process.exitCode = acknowledged ? EXIT.released : EXIT.refused;
}

interface Result {
  readonly acknowledged: boolean;
  readonly refusals: readonly Refusal[];
}

async function withDevice(options: Options, loaded: ReturnType<typeof loadRig>): Promise<Result> {
  const { outcome, carriedOut } = await runReal({
    loaded,
    ports: options.port,
    state: options.state,
    by: options.by,
    order: 'acknowledge',
    measuredDead: options.measuredDead ?? false,
    ...protection(options),
    wish: NO_WISH,
    onProgress: (what, runner) => {
      if (!options.json) tellProgress(what, runner.session);
    },
  });
  return { acknowledged: carriedOut, refusals: outcome.refusals };
}

/**
 * Without the device only the record can speak: the last session must have recorded that everything was proven
 * dead. The device keeps its own latch until the next connection, which reads it before it clears it.
 */
function onDisk(options: Options, rig: string): Result {
  const latch = new LatchFile(stateFolder(options.state), rig);
  const refuse = (code: 'not-permitted-now' | 'not-proven-dead', part: string): Result => {
    const refusal = refusalOf({ code, part }, 'acknowledge', options.by, 0);
    if (!options.json) tellProgress({ kind: 'refusal', atS: 0, refusal }, null);
    return { acknowledged: false, refusals: [refusal] };
  };
  if (!latch.latched) return refuse('not-permitted-now', 'no trip is latched for this rig');
  const { trip, open } = latch.state;
  if (open?.energised === true)
    return refuse(
      'not-proven-dead',
      `the session of journal ${open.journal} never recorded its end; give --port so that the device can be read`,
    );
  if (trip?.provenDead !== true)
    return refuse('not-proven-dead', 'the record says so; give --port so that the device can be read');
  latch.acknowledge(options.by, realClock.wallMs(), false);
  return { acknowledged: true, refusals: [] };
}
