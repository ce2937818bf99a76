/** A charger proven without a train: a bidirectional source driven by the model of the rafts, in virtual time. */
import { describe, expect, it } from 'vitest';
import type { InstrumentFault } from '../../simulators/peers/peer.js';
import { scpiLoad } from '../../simulators/peers/scpi-load.js';
import { TrainHost } from '../../src/emulator/train-host.js';
import type { Clock } from '../../src/host/clock.js';
import { ScpiTalk } from '../../src/instruments/scpi-talk.js';
import type { Link, LinkEvents } from '../../src/link/link.js';
import { MemoryLink } from '../../src/link/memory.js';
import type { ScpiMap } from '../../src/rig/instrument-schema.js';
import { loadLoad, loadRig } from '../../src/rig/load.js';
import { runBench, type Told } from './instrument-bench.js';

const loaded = loadRig('depot-emulated');
const POLL_MS = 50;
const map = loadLoad('scpi-load', { baud: 230400, pollMs: POLL_MS }) as ScpiMap;

/** The train's line, with the emulation behind it; it opens when the line does. */
class EmulatedTrainLink extends MemoryLink {
  readonly host: TrainHost;
  readonly #talk: ScpiTalk;

  constructor(clock: Clock, load: Link, told: Told[]) {
    super({ clock, port: 'train', baud: 230400 });
    const tell = (text: string): void => void told.push({ port: 'train', text });
    this.#talk = new ScpiTalk({
      clock,
      map,
      link: load,
      path: 'memory',
      trouble: ({ text }) => tell(text),
      note: tell,
    });
    this.host = new TrainHost({
      clock,
      rig: loaded.rig,
      port: 'train',
      map,
      talk: this.#talk,
      pollMs: POLL_MS,
      start: { soc: 0.6, cellC: 22, ambientC: 22, seed: 1 },
      end: this.far,
      told: tell,
    });
  }

  override async open(events: LinkEvents): Promise<void> {
    await this.#talk.open((reason) => this.host.fail(reason));
    this.host.start();
    await super.open(events);
  }

  override async close(): Promise<void> {
    await this.host.stop(500);
    await super.close();
    await this.#talk.close();
  }
}

async function emulated(faults: readonly InstrumentFault[] = []) {
  let train: EmulatedTrainLink | null = null;
  const run = await runBench(
    loaded,
    new Map([['train', { kind: scpiLoad, faults }]]),
    (links, clock, told) => {
      train = new EmulatedTrainLink(clock, links[1] as Link, told);
      return [links[0] as Link, train];
    },
  );
  return { run, train: train as unknown as EmulatedTrainLink };
}

/** Volts at the terminals of the load, as the bench knows them. */
const heldV = (run: { bench: { parts: { rafts: readonly { heldV: number | null }[] } } }): number | null =>
  run.bench.parts.rafts[0]!.heldV;

describe('an emulated battery', () => {
  it('is charged like a battery, and parted from: released', async () => {
    const { run, train } = await emulated();
    expect(run.told).toEqual([]);
    expect(run.outcome).toMatchObject({ outcome: 'released', endReason: 'target', trip: null });
    expect(run.exit).toBe(0);
    expect(run.outcome.peakCurrentA).toBeGreaterThan(50);
    // The load is off, and was read off.
    expect(heldV(run)).toBeNull();
    // What the model took up is what flowed at the terminals of the load: its share of a hundred kilowatt hours each.
    const kwh = run.truth.energyAtRaftTerminalsKwh;
    expect(kwh).toBeGreaterThan(0.045);
    const rise = train.host.train.rafts.map((raft) => raft.soc - 0.6);
    const { capacityAh } = loaded.rig.battery.raft.cell;
    const { parallelCells } = loaded.rig.battery.raft;
    const ah = rise.reduce((sum, r) => sum + r * capacityAh * parallelCells, 0);
    expect(Math.abs((ah * 732) / 1000 / kwh - 1)).toBeLessThan(0.03);
  });

  it.each(['silent', 'unplugged', 'garbage'] as const)(
    'whose load goes wrong (%s): the session trips, and the load is off',
    async (fault) => {
      const { run, train } = await emulated([{ fault, phase: 'ramping', afterS: 1 }]);
      expect(run.outcome).toMatchObject({ outcome: 'tripped', trip: { phase: 'ramping' } });
      expect(train.host.train.failed).not.toBeNull();
      expect(heldV(run)).toBeNull();
    },
  );

  it('whose load does not switch off: says so, and the session does not end as proven', async () => {
    const { run, train } = await emulated([{ fault: 'wont-switch-off', phase: 'ramping', afterS: 0 }]);
    expect(train.host.train.failed).toMatch(/still reads on: KEEP AWAY/);
    expect(run.outcome.outcome).toBe('tripped');
    expect(heldV(run)).not.toBeNull();
  });
});
