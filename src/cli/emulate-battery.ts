/** `loopwarden emulate-battery`: an electronic load or a bidirectional source in the place of a train. */
import type { Command } from 'commander';
import { linkEnd, ptyEnd } from '../../simulators/device-host.js';
import { openPty } from '../../simulators/pty.js';
import { TrainHost } from '../emulator/train-host.js';
import { realClock } from '../host/clock.js';
import { InputError } from '../host/input-error.js';
import { talkOf } from '../instruments/open.js';
import { NO_TROUBLE } from '../link/memory.js';
import { SerialLink } from '../link/serial.js';
import { loadLoad, loadRig } from '../rig/load.js';
import type { Rig } from '../rig/schema.js';
import { NOTICE } from './notice.js';
import { celsius, count, seed as seedNumber, share } from './numbers.js';
import { complain, paint, say } from './print.js';

interface Options {
  readonly rig: string;
  readonly instrument: string;
  readonly port: string;
  readonly baud: number;
  readonly pollMs: number;
  readonly link?: string;
  readonly pty?: boolean;
  readonly soc: number;
  readonly cellC: number;
  readonly seed: number;
  readonly json?: boolean;
}

const CAUTION =
  'A bidirectional source is as live as a battery. Fuse it, give it a stop of its own, and prove make-safe on a dead\n' +
  'circuit first. When this process dies, only the watchdog of its map or that stop takes the output off.';
/** How long the instrument may take to go off at the end. */
const OFF_WITHIN_MS = 2000;
const EXIT_NOT_OFF = 9;

export function addEmulateBattery(program: Command): void {
  program
    .command('emulate-battery')
    .description('a load or a bidirectional source stands in for the train, driven by the model of its rafts')
    .requiredOption(
      '--rig <file>',
      'rig file or name of a shipped rig; one of its ports serves train and rafts alone',
    )
    .requiredOption('--instrument <file>', 'command map of the load, or name of a shipped one')
    .requiredOption('--port <path>', 'serial port of the load')
    .option('--baud <n>', 'its baud rate', count, 115200)
    .option('--poll-ms <ms>', 'one round with it', count, 50)
    .option('--link <path>', 'serial port on which the supervisor is answered for the train')
    .option('--pty', 'make a pseudo-terminal for that instead, and print its path')
    .option('--soc <share>', 'state of charge of the rafts', share, 0.6)
    .option('--cell-c <degC>', 'temperature of the cells', celsius, 22)
    .option('--seed <n>', 'seed of what differs from raft to raft', seedNumber, 1)
    .option('--json', 'print the path as one JSON line')
    .action(emulate);
}

/** The port of the train. @throws InputError */
function trainPort(rig: Rig): Rig['link']['ports'][number] {
  const found = rig.link.ports.find((p) => p.roles.includes('train'));
  const others = found?.roles.filter((r) => r !== 'train' && !r.startsWith('raft')) ?? [];
  if (found === undefined || others.length > 0 || found.instrument !== undefined)
    throw new InputError(
      `rig ${rig.name}: the port of the train must serve train and rafts alone` +
        (others.length > 0 ? `, it serves ${others.join(', ')} too` : ''),
    );
  return found;
}

async function emulate(options: Options): Promise<void> {
  if ((options.pty === true) === (options.link !== undefined))
    throw new InputError(
      'give either --pty, to make a pseudo-terminal, or --link PATH, to use a serial port',
    );
  const { rig } = loadRig(options.rig);
  const port = trainPort(rig);
  const { baud, pollMs, instrument } = options;
  const map = loadLoad(instrument, { baud, pollMs });
  const tell = (text: string): void => complain(`load (${options.port}): ${text}`);
  const place = { clock: realClock, port: 'load', path: options.port, baud };
  const talk = talkOf(map, place, { trouble: ({ text }) => tell(text), note: tell });
  if (!options.json) {
    say(`${NOTICE}\n\n${CAUTION}\n`);
    say(paint('bold', `Emulated battery on ${rig.name}: ${map.title}, at ${100 * options.soc} %`));
  }
  let host: TrainHost | null = null;
  const found = await talk.open((reason) => {
    host?.fail(reason);
    complain(reason);
  });
  if (found.outputWasOn) tell('its output stood on; it was switched off');
  const pty = options.pty ? await openPty(realClock) : null;
  const wire = { clock: realClock, baud: port.baud, trouble: () => NO_TROUBLE, random: undefined };
  const end =
    pty === null
      ? await linkEnd(
          new SerialLink({ ...place, port: port.name, path: options.link as string, baud: port.baud }),
          (reason) => complain(reason),
        )
      : ptyEnd(pty, wire);
  const train = new TrainHost({
    clock: realClock,
    rig,
    port: port.name,
    map,
    talk,
    pollMs,
    start: { soc: options.soc, cellC: options.cellC, ambientC: options.cellC, seed: options.seed },
    end,
    told: tell,
  });
  host = train;
  train.start();
  if (pty !== null) say(options.json ? JSON.stringify({ path: pty.path }) : `port ${port.name}: ${pty.path}`);
  if (!options.json) say('Ctrl-C switches it off and ends it.');
  let ending = false;
  for (const signal of ['SIGINT', 'SIGTERM'] as const)
    process.on(signal, () => {
      if (ending) return;
      ending = true;
      void train.stop(OFF_WITHIN_MS).then(async (isOff) => {
        if (!isOff)
          complain('KEEP AWAY: the output was ordered off and does not read off. Lock off the load.');
        await talk.close();
        pty?.close();
        process.exit(isOff ? 0 : EXIT_NOT_OFF);
      });
    });
}
