/** Everything the world is made of, in one bundle for sensors and fault effects. */
import type { Rig } from '../src/rig/schema.js';
import { Bleeders } from './bleeder.js';
import { Cable } from './cable.js';
import { Circuit, type PoleName } from './circuit.js';
import { Pole } from './contactor.js';
import { Converter } from './converter.js';
import { IsolationDevice } from './isolation-device.js';
import { PilotLoop } from './pilot-loop.js';
import { Raft } from './raft.js';
import type { Start } from './scenario.js';
import type { SeededRandom } from './seeded-random.js';
import { Stand } from './stand.js';
import { Supply } from './supply.js';

/** The train's own contactors are not in the rig: typical travelling times. */
const TRAIN_CLOSE_MS = 90;
const TRAIN_OPEN_MS = 60;

/** Faults of the link and the host, which devices and journal stores ask for. */
export interface OutsideFaults {
  silent: boolean;
  /** Devices hear nothing. */
  deaf: boolean;
  /** Given to the over-voltage relay in place of the output; NaN: none. */
  relayTestV: number;
  readonly lostPorts: Set<string>;
  corruptShare: number;
  dropShare: number;
  journalDelayMs: number;
  journalFails: boolean;
}

export interface Parts {
  readonly rig: Rig;
  readonly circuit: Circuit;
  readonly converter: Converter;
  /** Cable rigs only. */
  readonly pilot: PilotLoop | null;
  readonly isolation: IsolationDevice;
  readonly poleP: Pole;
  readonly poleN: Pole;
  readonly polePre: Pole;
  readonly train: Record<PoleName, Pole>;
  /** Plug pin or shoe touches its counterpart. */
  readonly touching: Record<PoleName, boolean>;
  readonly cable: Cable;
  readonly bleeders: Bleeders;
  readonly rafts: readonly Raft[];
  readonly supply: Supply;
  readonly stand: Stand;
  readonly outside: OutsideFaults;
}

export const START_SOC = 0.4;
export const START_CELL_C = 25;
export const START_AMBIENT_C = 20;

export function makeParts(rig: Rig, start: Start, random: SeededRandom): Parts {
  const ambientC = start.ambientC ?? START_AMBIENT_C;
  const circuit = new Circuit(rig);
  const contactors = rig.contactors;
  const poleOf = (label: string) => new Pole(contactors.closeMs, contactors.openMs, random.fork(label));
  const trainPole = (label: string) => new Pole(TRAIN_CLOSE_MS, TRAIN_OPEN_MS, random.fork(label));
  const rafts = rig.battery.rafts.map((raft, i) => {
    const own = start.rafts?.[i];
    const stream = random.fork(`raft${i + 1}`);
    return new Raft(
      rig.battery.raft,
      raft.kind,
      {
        soc: own?.soc ?? start.soc ?? START_SOC,
        cellC: own?.cellC ?? start.cellC ?? START_CELL_C,
        spreadV: own?.spreadV ?? stream.between(0.003, 0.008),
        ambientC,
      },
      stream,
    );
  });
  for (const raft of rafts)
    raft.generatorRunning = raft.kind === 'generator' && start.generatorRunning === true;
  return {
    rig,
    circuit,
    converter: new Converter(rig, ambientC),
    pilot: rig.pilot === undefined ? null : new PilotLoop(rig.pilot, random.fork('pilot')),
    isolation: new IsolationDevice(circuit),
    poleP: poleOf('p'),
    poleN: poleOf('n'),
    polePre: poleOf('pre'),
    train: { p: trainPole('train-p'), n: trainPole('train-n') },
    touching: { p: true, n: true },
    cable: new Cable(rig, ambientC),
    bleeders: new Bleeders(rig, circuit, ambientC),
    rafts,
    supply: new Supply(rig, start.supply),
    stand: new Stand(random.fork('stand'), start.plugLocked),
    outside: {
      silent: false,
      deaf: false,
      relayTestV: Number.NaN,
      lostPorts: new Set(),
      corruptShare: 0,
      dropShare: 0,
      journalDelayMs: 0,
      journalFails: false,
    },
  };
}

/** Makes or breaks each line as touch and train contactors stand now. */
export function remakeLines(parts: Parts): void {
  for (const pole of ['p', 'n'] as const)
    parts.circuit.setLine(pole, parts.touching[pole] && parts.train[pole].closed);
}
