/** Whole sessions in virtual time with adapters before simulated instruments, and what went wrong with them. */
import type { Hosting } from '../../simulators/device-host.js';
import { PEERS } from '../../simulators/peers/kinds.js';
import type { InstrumentFault } from '../../simulators/peers/peer.js';
import type { Clock } from '../../src/host/clock.js';
import { filesInMemory } from '../../src/host/durable-file.js';
import { InstrumentLink } from '../../src/instruments/adapter.js';
import { ModbusTalk } from '../../src/instruments/modbus-talk.js';
import { ScpiTalk } from '../../src/instruments/scpi-talk.js';
import { decodeToSupervisor } from '../../src/link/codec.js';
import type { ByteEvents, ByteLink, Link } from '../../src/link/link.js';
import { runVirtual, type VirtualRun } from '../../src/rehearsal/virtual-run.js';
import type { LoadedRig } from '../../src/rig/load.js';

export type PortFaults = Readonly<Record<string, readonly InstrumentFault[]>>;

export interface Told {
  readonly port: string;
  readonly text: string;
}

export interface InstrumentRun extends VirtualRun {
  /** Lines of the journal. */
  readonly lines: readonly { readonly k: string; readonly t: number; readonly b: unknown }[];
  /** ms from the first moment the fault could show (so long after its phase began) to the trip; NaN without one. */
  tripAfter(phase: string, afterS: number): number;
  /** Kinds of tags the ports sent, by name of the port. */
  tags(port: string): string[];
  /** What was written down for whoever looks after the installation. */
  readonly told: readonly Told[];
}

/** Bytes over a link of lines, as the bench's end does it. */
class HexBytes implements ByteLink {
  constructor(private readonly link: Link) {}
  get port(): string {
    return this.link.port;
  }
  open(events: ByteEvents): Promise<void> {
    return this.link.open({
      line: (text) => events.bytes(Buffer.from(text, 'hex')),
      down: (reason) => events.down(reason),
    });
  }
  write(bytes: Uint8Array): boolean {
    return this.link.send(Buffer.from(bytes).toString('hex'));
  }
  close(): Promise<void> {
    return this.link.close();
  }
}

/** The supervisor's links: an adapter wherever the rig has a map for the port. */
export function adapters(
  loaded: LoadedRig,
  links: readonly Link[],
  clock: Clock,
  told: Told[] = [],
): readonly Link[] {
  const note = (what: object) => {
    const { port, text = '' } = what as Told;
    told.push({ port, text });
  };
  return links.map((link, i) => {
    const port = loaded.rig.link.ports[i]!;
    const map = loaded.instruments.get(port.name);
    if (map === undefined) return link;
    return new InstrumentLink({
      clock,
      rig: loaded.rig,
      port: port.name,
      path: 'memory',
      map,
      pollMs: port.pollMs as number,
      diagnostics: { info: () => {}, warn: note, error: note },
      talk: (hear) =>
        map.speaks === 'scpi'
          ? new ScpiTalk({ clock, map, link, path: 'memory', ...hear })
          : new ModbusTalk({
              clock,
              map,
              link: new HexBytes(link),
              baud: port.baud,
              path: 'memory',
              ...hear,
            }),
    });
  });
}

export const runInstruments = (loaded: LoadedRig, faults: PortFaults = {}): Promise<InstrumentRun> =>
  runBench(
    loaded,
    new Map(
      [...loaded.instruments].map(([port, map]) => [
        port,
        { kind: PEERS[`${map.speaks} ${map.role}`]!, faults: faults[port] ?? [] },
      ]),
    ),
    (links, clock, told) => adapters(loaded, links, clock, told),
  );

export async function runBench(
  loaded: LoadedRig,
  instruments: ReadonlyMap<string, Hosting>,
  wire: (links: readonly Link[], clock: Clock, told: Told[]) => readonly Link[],
): Promise<InstrumentRun> {
  let text = '';
  const told: Told[] = [];
  const run = await runVirtual({
    loaded,
    scenario: {
      seed: 7,
      start: { soc: 0.6, cellC: 22, ambientC: 20 },
      inject: [],
      wish: { targetEnergyKwh: 0.05 },
      orders: [],
    },
    stateDir: '/nowhere',
    latchFiles: filesInMemory(),
    journalPath: 'memory',
    sink: {
      append: (more) => {
        text += more;
      },
      close: async () => {},
    },
    instruments,
    wire: (links, clock) => wire(links, clock, told),
  });
  const lines = text
    .split('\n')
    .filter((l) => l !== '')
    .map((l) => JSON.parse(l));
  const tags = (port: string): string[] => {
    const index = loaded.rig.link.ports.findIndex((p) => p.name === port);
    return lines.flatMap(({ k, b }) => {
      if (k !== 'frame') return [];
      const [from, line] = b as [number, string];
      const decoded = decodeToSupervisor(line);
      return from === index && decoded.ok && decoded.frame.body.verb === 'tag'
        ? [decoded.frame.body.kind]
        : [];
    });
  };
  const tripAfter = (phase: string, afterS: number): number => {
    const begins = lines.find(({ k, b }) => k === 'state' && outermost(b.value) === phase);
    return (run.tripMs ?? Number.NaN) - begins.t / 1e6 - 1000 * afterS;
  };
  return { ...run, lines, tags, tripAfter, told };
}

/** Name of the phase in a state, which may be nested. */
const outermost = (value: string | object): string =>
  typeof value === 'string' ? value : (Object.keys(value)[0] ?? '');
