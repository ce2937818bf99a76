/**
 * `loopwarden free-plug`: after a trip was acknowledged the plug is still locked; a named person has it freed, with
 * no latch standing and both sides proven dead. Refused at voltage.
 */
import type { Command } from 'commander';
import { NO_WISH } from '../checks/check.js';
import { InputError } from '../host/input-error.js';
import { loadRig } from '../rig/load.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { collect } from './ports.js';
import { say } from './print.js';
import { runReal } from './real-session.js';
import { type Protection, protectedBy, protection } from './signing.js';
import { tellProgress } from './tell.js';

interface Options extends Protection {
  readonly rig: string;
  readonly by: string;
  readonly port: string[];
  readonly state?: string;
  readonly json?: boolean;
}

export function addFreePlug(program: Command): void {
  protectedBy(program.command('free-plug'))
    .description('free a plug left locked, by name; refused while latched or while anything may be live')
    .requiredOption('--rig <file>', 'rig file or name of a shipped rig')
    .requiredOption('--by <name>', 'who asks for it')
    .requiredOption(
      '--port <path>',
      'serial port; name=PATH and repeated where the rig has several',
      collect,
      [],
    )
    .option('--state <dir>', 'folder of the trip latches; the user state folder otherwise')
    .option('--json', 'one JSON object')
    .action(freePlug);
}

async function freePlug(options: Options): Promise<void> {
  if (options.by.trim() === '')
    throw new InputError('--by: a name is needed; nobody frees a plug anonymously');
  const loaded = loadRig(options.rig);
  if (!options.json) say(`${NOTICE}\n`);
  const { outcome, carriedOut } = await runReal({
    loaded,
    ports: options.port,
    state: options.state,
    by: options.by,
    order: 'free-plug',
    ...protection(options),
    wish: NO_WISH,
    onProgress: (what, runner) => {
      if (!options.json) tellProgress(what, runner.session);
    },
  });
  const { refusals } = outcome;
  if (options.json)
    say(JSON.stringify({ freed: carriedOut, by: options.by, rig: loaded.rig.name, refusals }));
  else say(carriedOut ? 'The lock reads free.' : 'Not freed: the plug stays locked.');
  process.exitCode = carriedOut ? EXIT.released : EXIT.refused;
}
