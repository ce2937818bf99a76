/** `loopwarden serve`: the live page, of a simulated charger in real time or of a real one over serial ports. */
import path from 'node:path';
import type { Command } from 'commander';
import { FAULTS, type FaultDefinition } from '../../simulators/faults.js';
import { realClock } from '../host/clock.js';
import { type Diagnostics, diagnosticsTo, quiet } from '../host/diagnostics.js';
import { newFolder } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { newSecret } from '../host/random.js';
import { SOFTWARE } from '../host/version.js';
import type { FaultsKnown } from '../page/about.js';
import { makePage, type Page } from '../page/page.js';
import { SIGNED_IN_MS } from '../page/people.js';
import { ExerciseDesk } from '../rehearsal/exercise-desk.js';
import { loadExercises } from '../rehearsal/exercise-load.js';
import { faultsOf } from '../rehearsal/fault-ask.js';
import { LiveBench } from '../rehearsal/live-bench.js';
import type { LoadedRig } from '../rig/load.js';
import { loadRig } from '../rig/load.js';
import type { Rig } from '../rig/schema.js';
import type { Exercises, Stand } from '../supervisor/stand.js';
import { type PlaceOptions, placeOf, type ServedAt } from './http-place.js';
import { NOTICE, NOTICE_LINES } from './notice.js';
import { seed } from './numbers.js';
import { pageAssets } from './page-assets.js';
import { collect } from './ports.js';
import { complain, paint, say } from './print.js';
import { SerialStand } from './serial-stand.js';
import { listenToSignals, type Signals } from './signals.js';
import { type Protection, protectedBy, protection } from './signing.js';

interface Options extends Protection, PlaceOptions {
  readonly rig: string;
  readonly portSerial: string[];
  readonly seed: number;
  readonly out?: string;
  readonly state?: string;
  readonly log?: string;
  readonly json?: boolean;
}

/** In whose name Ctrl-C stops a session. */
const HERE = 'the terminal of the page';

export function addServe(program: Command): void {
  protectedBy(program.command('serve'))
    .description('a live page: a simulated charger driven by hand, or a real one supervised')
    .requiredOption('--rig <name|file>', 'rig')
    .option(
      '--port-serial <path>',
      'a real charger: serial port; name=PATH and repeated for several; simulated without it',
      collect,
      [],
    )
    .option(
      '--http <address:port>',
      'where to serve; another address than loopback needs TLS',
      '127.0.0.1:8750',
    )
    .option('--tls-cert <file>', 'certificate, PEM')
    .option('--tls-key <file>', 'its private key, PEM')
    .option('--host-name <name>', 'a further name this page is reached by; repeated for several', collect, [])
    .option('--seed <n>', 'of the simulated charger', seed, 1)
    .option('--out <dir>', 'folder of the journals')
    .option('--state <dir>', 'folder of the trip latch; of a simulated charger a new one below ./out')
    .option('--log <file>', 'append diagnostics of ports, page and program to this file')
    .option('--json', 'address and sign-in link as one JSON line')
    .action(serve);
}

async function serve(options: Options): Promise<void> {
  const at = placeOf(options);
  const loaded = loadRig(options.rig);
  const diagnostics = options.log === undefined ? quiet : diagnosticsTo(options.log);
  let close: () => Promise<void> = async () => {};
  let isLeft = false;
  // Once, however often somebody asks.
  const leave = (): void => {
    if (isLeft) return;
    isLeft = true;
    void close();
  };
  const signals = listenToSignals(HERE, leave);
  const { stand, exercises } =
    options.portSerial.length > 0
      ? { stand: realStand(options, loaded, diagnostics, signals, leave), exercises: null }
      : simulatedStand(options, loaded, diagnostics);
  close = () => stand.close();
  try {
    const { assets, scriptHashes } = pageAssets();
    const page = await makePage({
      ...{ stand, exercises, diagnostics, assets, scriptHashes },
      ...{ clock: realClock, software: SOFTWARE, caution: NOTICE_LINES, newSecret },
      ...{ place: at.place, tls: at.tls, faults: stand.bench === null ? [] : faultsKnown(loaded.rig) },
    });
    close = async () => {
      await stand.close();
      await page.close();
    };
    await listen(page, at, options);
    // Asked to end before there was a page: nothing is served before a stand that is closed.
    if (isLeft) await close();
    else tell(page, at, loaded, options);
  } catch (error) {
    // A bench that is left running would keep the program from ending.
    await close();
    throw error;
  }
}

async function listen(page: Page, at: ServedAt, { http }: Options): Promise<void> {
  try {
    await page.app.listen({ host: at.place.host, port: at.port });
  } catch (error) {
    throw new InputError(
      `--http ${http}: the address cannot be used (${(error as Error).message}); give another`,
    );
  }
}

function realStand(
  options: Options,
  loaded: LoadedRig,
  diagnostics: Diagnostics,
  signals: Signals,
  leave: () => void,
): Stand {
  const { portSerial: ports, out, state } = options;
  return new SerialStand({
    ...{ loaded, ports, out, state, diagnostics, ...protection(options) },
    onRunner: (runner) => {
      signals.tell(runner);
      // Ctrl-C in a session ends the session first, then the page.
      if (runner === null && signals.heard) leave();
    },
  });
}

function simulatedStand(
  options: Options,
  loaded: LoadedRig,
  diagnostics: Diagnostics,
): { stand: Stand; exercises: Exercises } {
  // Latches of an exercise never mix with those of a charger.
  const state = options.state ?? newFolder(path.join('out', `page-${loaded.rig.name}`));
  const { signing, headFile } = protection(options);
  // An option that does nothing would be believed.
  if (headFile !== undefined)
    throw new InputError('--head-file is for a real charger: give --port-serial, or leave it out');
  const stand = new LiveBench({
    ...{ loaded, state, diagnostics, signing, real: realClock },
    ...{ seed: options.seed, journals: options.out },
  });
  return { stand, exercises: new ExerciseDesk(stand, loadExercises(loaded)) };
}

/** Those that this rig can suffer. */
const faultsKnown = (rig: Rig): FaultsKnown =>
  faultsOf(rig).map((fault) => {
    const { unit, magnitude, text, part }: FaultDefinition = FAULTS[fault];
    return { fault, unit, magnitude, text, part: part ?? null };
  });

function tell(page: Page, { place }: ServedAt, loaded: LoadedRig, options: Options): void {
  const bound = page.app.server.address();
  const port = typeof bound === 'object' && bound !== null ? bound.port : 0;
  const host = place.names[0] ?? (place.host.includes(':') ? `[${place.host}]` : place.host);
  const address = `${place.tls ? 'https' : 'http'}://${host}:${port}/`;
  const invited = page.context.people.invite('engineer', SIGNED_IN_MS);
  const signIn = `${address}#invitation=${invited?.invitation ?? ''}`;
  const { name, title } = loaded.rig;
  if (options.json) {
    say(JSON.stringify({ address, signIn, rig: name, simulated: page.context.stand.bench !== null }));
    return;
  }
  say(NOTICE);
  say();
  say(paint('bold', `The live page of ${name}: ${title}`));
  say(
    page.context.stand.bench === null
      ? `A REAL charger on ${options.portSerial.join(', ')}.`
      : 'Simulated; no real hardware is touched.',
  );
  say();
  say('Sign in, once, as engineer:');
  say(`  ${signIn}`);
  say(`Others are invited from the page. Ctrl-C ends it.`);
  if (place.tls) complain('Others on this network can reach the page.');
}
