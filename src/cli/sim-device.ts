/** `loopwarden sim-device`: the simulated bench on serial lines, in real time. */
import type { Command } from 'commander';
import { DeviceHost, type Hosting, linkEnd, ptyDevices } from '../../simulators/device-host.js';
import { answerOfBox } from '../../simulators/fault-box.js';
import { PEERS } from '../../simulators/peers/kinds.js';
import type { PeerKind } from '../../simulators/peers/peer.js';
import { scpiLoad } from '../../simulators/peers/scpi-load.js';
import { openPty, type Pty } from '../../simulators/pty.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { World } from '../../simulators/world.js';
import { realClock } from '../host/clock.js';
import { InputError } from '../host/input-error.js';
import { LineGuard } from '../link/guard.js';
import { MAX_LINE_BYTES } from '../link/link.js';
import { FAULT_BOX } from '../prove/fault-box.js';
import { type LoadedRig, loadRig } from '../rig/load.js';
import { instrumentFault, type PortFault } from './instrument-faults.js';
import { NOTICE } from './notice.js';
import { each, seed as seedNumber } from './numbers.js';
import { collect, serialLinks } from './ports.js';
import { complain, paint, say } from './print.js';
import { loadScenario } from './scenarios-files.js';

interface Options {
  readonly rig?: string;
  readonly scenario: string;
  readonly seed?: number;
  readonly pty?: boolean;
  readonly port: string[];
  readonly latched?: boolean;
  readonly proving?: boolean;
  readonly instrumentFault?: readonly PortFault[];
  readonly loadAt?: string;
  readonly json?: boolean;
}

export function addSimDevice(program: Command): void {
  program
    .command('sim-device')
    .description('the simulated bench on a serial line, in real time')
    .option('--rig <file>', 'rig file or name of a shipped rig; the scenario names its own')
    .option('--scenario <name>', 'scenario file or name of a shipped scenario', 'short-top-up')
    .option('--seed <n>', 'seed of the simulation', seedNumber)
    .option('--pty', 'make a pseudo-terminal for each port of the rig and print its path')
    .option('--port <path>', 'answer on this serial port; name=PATH and repeated for several', collect, [])
    .option('--latched', 'the device comes up with its trip latch set')
    .option(
      '--proving',
      'a bench that proves a charger: hard-wired relays, a mark input, and with --pty a fault box on a line of its own',
    )
    .option(
      '--instrument-fault <port:fault@phase+s>',
      'a simulated instrument goes wrong, so many seconds after a phase began; repeated for several',
      each(instrumentFault),
    )
    .option('--load-at <port>', 'a simulated bidirectional source on this port, in the place of the train')
    .option('--json', 'print the paths as one JSON line')
    .action(simDevice);
}

async function simDevice(options: Options): Promise<void> {
  if ((options.pty === true) === options.port.length > 0)
    throw new InputError(
      'give either --pty, to make a pseudo-terminal, or --port PATH, to use a serial port',
    );
  const scenario = loadScenario(options.scenario);
  const loaded = loadRig(options.rig ?? scenario.rig);
  const { rig } = loaded;
  const seed = options.seed ?? scenario.seed;
  const proving = options.proving ? { proving: { relays: {} } } : {};
  const plant = new World({ rig, seed, start: scenario.start, inject: scenario.inject, ...proving });
  const latched = options.latched === true || scenario.start.latched === true;
  const host = {
    clock: realClock,
    plant,
    rig,
    random: new SeededRandom(seed).fork('line'),
    latchedPorts: latched ? rig.link.ports.map((p) => p.name) : [],
    instruments: hostings(loaded, options),
  };
  if (!options.json) {
    say(NOTICE);
    say();
    say(paint('bold', `Simulated bench: ${scenario.title} (${scenario.name}) on ${rig.name}, seed ${seed}`));
  }
  let close: () => void;
  if (options.pty) {
    const devices = await ptyDevices(host);
    const box = options.proving ? await openFaultBox(plant) : null;
    close = () => {
      devices.close();
      box?.close();
    };
    const ports = rig.link.ports.map((p, i): [string, string] => [p.name, devices.ptys[i]!.path]);
    tellPaths(box === null ? ports : [...ports, [FAULT_BOX, box.path]], rig.name, options.json === true);
  } else {
    for (const [port, { kind }] of host.instruments)
      if (kind.bytes) throw new InputError(`port ${port}: a simulated Modbus instrument needs --pty`);
    const links = serialLinks(options.port, rig);
    const ends = await Promise.all(
      links.map((link) => linkEnd(link, (reason) => complain(`port ${link.port} went down: ${reason}`))),
    );
    const real = new DeviceHost(host, ends, 'real');
    real.start();
    close = () => {
      real.stop();
      for (const link of links) void link.close();
    };
    if (!options.json) say(`Answering on ${options.port.join(', ')}. Ctrl-C ends it.`);
  }
  for (const signal of ['SIGINT', 'SIGTERM'] as const)
    process.once(signal, () => {
      close();
      process.exit(0);
    });
}

/** Answers at once; a line is bounded like any other. */
async function openFaultBox(plant: World): Promise<Pty> {
  const pty = await openPty(realClock);
  const guard = new LineGuard(MAX_LINE_BYTES);
  guard.on('data', (line: Buffer) => pty.write(`${answerOfBox(line.toString('latin1'), plant)}\n`));
  pty.onData((bytes) => guard.write(Buffer.from(bytes, 'latin1')));
  return pty;
}

/** The simulated instrument of every port that has one in the rig, and a load where one is asked for. */
function hostings({ instruments, rig }: LoadedRig, options: Options): Map<string, Hosting> {
  const { instrumentFault: faults = [], loadAt } = options;
  const kinds = new Map<string, PeerKind>();
  for (const [port, map] of instruments) {
    const kind = PEERS[`${map.speaks} ${map.role}`];
    if (kind === undefined)
      throw new InputError(`port ${port}: there is no simulated ${map.role} that speaks ${map.speaks}`);
    kinds.set(port, kind);
  }
  if (loadAt !== undefined) {
    const names = rig.link.ports.map((p) => p.name);
    if (!names.includes(loadAt))
      throw new InputError(`--load-at ${loadAt}: rig ${rig.name} has the ports ${names.join(', ')}`);
    kinds.set(loadAt, scpiLoad);
  }
  for (const { port } of faults)
    if (!kinds.has(port))
      throw new InputError(
        `--instrument-fault ${port}: no instrument behind a port of that name; known: ${[...kinds.keys()].join(', ') || 'none'}`,
      );
  return new Map(
    [...kinds].map(([port, kind]) => [port, { kind, faults: faults.filter((f) => f.port === port) }]),
  );
}

function tellPaths(paths: readonly (readonly [string, string])[], rig: string, json: boolean): void {
  const several = paths.length > 1;
  if (json) {
    say(JSON.stringify(several ? { paths: Object.fromEntries(paths) } : { path: paths[0]?.[1] }));
    return;
  }
  const lines = paths.filter(([name]) => name !== FAULT_BOX);
  const ports = lines
    .map(([name, path]) => (lines.length > 1 ? `--port ${name}=${path}` : `--port ${path}`))
    .join(' ');
  const box = paths.find(([name]) => name === FAULT_BOX)?.[1];
  for (const [name, path] of paths) say(`port ${name}: ${path}`);
  say();
  say('In another terminal:');
  if (box === undefined) say(`  npx loopwarden run --rig ${rig} ${ports} --target-energy-kwh 1`);
  else say(`  npx loopwarden prove --rig ${rig} ${ports} --fault-box ${box} --by NAME`);
  say('Ctrl-C ends it.');
}
