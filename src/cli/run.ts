/** `loopwarden run`: a real session over serial ports. */
import { userInfo } from 'node:os';
import type { Command } from 'commander';
import { wishOf } from '../checks/check.js';
import { realClock } from '../host/clock.js';
import { diagnosticsTo, quiet } from '../host/diagnostics.js';
import { InputError } from '../host/input-error.js';
import { statusServer } from '../page/status.js';
import { loadRig } from '../rig/load.js';
import { EXIT, exitCodeOf } from '../supervisor/outcome.js';
import type { Runner } from '../supervisor/runner.js';
import type { Session } from '../supervisor/session.js';
import { NOTICE } from './notice.js';
import { amps, energyKwh, seconds, share, tcpPort } from './numbers.js';
import { noOtherTarget, readPlan } from './plan-file.js';
import { collect } from './ports.js';
import { complain, paint, say } from './print.js';
import { runReal } from './real-session.js';
import { listenToSignals } from './signals.js';
import { type Protection, protectedBy, protection } from './signing.js';
import { liveFigures, tellOutcome, tellProgress } from './tell.js';

interface Options extends Protection {
  readonly rig: string;
  readonly port: string[];
  readonly targetSoc?: number;
  readonly targetEnergyKwh?: number;
  readonly maxS?: number;
  readonly maxCurrentA?: number;
  readonly plan?: string;
  readonly by?: string;
  readonly out?: string;
  readonly state?: string;
  readonly status?: number;
  readonly log?: string;
  readonly json?: boolean;
}

const LIVE_EVERY_MS = 1000;
/** Without a terminal the live figures are lines in a log. */
const LOGGED_EVERY = 10;

export function addRun(program: Command): void {
  protectedBy(program.command('run'))
    .description('a real charge session over serial ports; Ctrl-C is a normal stop, a second one trips now')
    .requiredOption('--rig <file>', 'rig file or name of a shipped rig')
    .requiredOption(
      '--port <path>',
      'serial port; name=PATH and repeated where the rig has several',
      collect,
      [],
    )
    .option('--target-soc <share>', 'state of charge to stop at; the rig ceiling otherwise', share)
    .option('--target-energy-kwh <kWh>', 'energy to the battery to stop at', energyKwh)
    .option('--max-s <s>', 'longest session', seconds)
    .option('--max-current-a <A>', 'no more current than this', amps)
    .option('--plan <file>', 'target and latest end from a plan; see `plan stop --out`')
    .option('--by <name>', 'who asks for the session; the name of the user otherwise')
    .option('--out <dir>', 'folder for the journal; below the state folder otherwise')
    .option('--state <dir>', 'folder of the trip latches; the user state folder otherwise')
    .option('--status <port>', 'serve a read-only look at the session on this port of 127.0.0.1', tcpPort)
    .option('--log <file>', 'append diagnostics of ports and program to this file')
    .option('--json', 'one JSON object')
    .action(run);
}

async function run(options: Options): Promise<void> {
  const loaded = loadRig(options.rig);
  const by = options.by ?? userInfo().username;
  if (!options.json) {
    say(NOTICE);
    say();
    say(paint('bold', `Session on ${loaded.rig.name}: ${loaded.rig.title}; asked by ${by}`));
    say();
  }
  const { targetSoc, targetEnergyKwh, maxS, maxCurrentA } = options;
  const plan = options.plan === undefined ? null : readPlan(options.plan, loaded);
  if (plan !== null)
    noOtherTarget({ '--target-soc': targetSoc, '--target-energy-kwh': targetEnergyKwh, '--max-s': maxS });
  let session: Session | null = null;
  const signals = listenToSignals(by);
  const status = options.status === undefined ? null : statusServer(() => session);
  if (status !== null) await listen(status, options.status as number);
  const { outcome, fault, head } = await runReal({
    loaded,
    ports: options.port,
    out: options.out,
    state: options.state,
    by,
    ...protection(options),
    order: 'start',
    diagnostics: options.log === undefined ? quiet : diagnosticsTo(options.log),
    planned: plan?.planned,
    wish: wishOf(
      plan !== null
        ? { ...plan.wish, maxCurrentA }
        : {
            ...{ targetEnergyKwh, maxS, maxCurrentA },
            targetSoc:
              targetSoc ?? (targetEnergyKwh === undefined ? loaded.rig.battery.ceilingSoc : undefined),
          },
    ),
    onProgress: (what, runner) => {
      if (!options.json) tellProgress(what, runner.session);
    },
    onReady: (runner) => {
      session = runner.session;
      signals.tell(runner);
      if (!options.json) showLive(runner);
    },
  });
  await status?.close();
  if (fault !== null) {
    complain(
      'loopwarden itself has failed. The devices were told to make safe. KEEP AWAY until that is proven.',
    );
    complain(fault.stack ?? fault.message);
  }
  if (options.json) say(JSON.stringify({ ...outcome, journalHead: head }));
  else tellOutcome(outcome, head);
  process.exitCode = fault === null ? exitCodeOf(outcome) : EXIT.internalFault;
}

async function listen(status: ReturnType<typeof statusServer>, port: number): Promise<void> {
  try {
    await status.listen({ host: '127.0.0.1', port });
  } catch (error) {
    throw new InputError(
      `--status ${port}: the port cannot be used (${(error as Error).message}); give another`,
    );
  }
}

function showLive(runner: Runner): void {
  let count = 0;
  const show = (): void => {
    if (runner.outcome !== null || runner.closed) return;
    count++;
    const { phase } = runner.session;
    const live =
      phase === 'ramping' || phase === 'holding' || phase === 'tapering' || phase === 'ramping-down';
    if (live && (process.stdout.isTTY || count % LOGGED_EVERY === 0))
      say(paint('dim', `            ${phase.padEnd(20)}  ${liveFigures(runner.session)}`));
    realClock.after(LIVE_EVERY_MS, show);
  };
  realClock.after(LIVE_EVERY_MS, show);
}
