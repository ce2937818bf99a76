/** The simulated device on a stub plant, in virtual time. */
import { type DeviceHost, virtualDevices } from '../../simulators/device-host.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import type { MemoryLink } from '../../src/link/memory.js';
import { Bench, type BenchOptions, type Figures, type Seen } from './bench.js';
import { StubPlant, stubRig } from './stub-plant.js';

export class VirtualBench extends Bench {
  readonly clock = new VirtualClock();
  readonly plant = new StubPlant();
  readonly host: DeviceHost;
  readonly link: MemoryLink;
  readonly figures: Figures;

  constructor(options: BenchOptions = {}) {
    super();
    const rig = stubRig(options.roles ? [{ name: 'main', roles: [...options.roles] }] : undefined);
    const { maxCurrentA, maxVoltageV } = rig.converter as unknown as Record<string, number>;
    const { maxOnS, maxEnergyJ, outputOhm } = rig.bleeder as unknown as Record<string, number>;
    this.figures = {
      maxCurrentA: maxCurrentA as number,
      maxVoltageV: maxVoltageV as number,
      bleederMaxOnS: maxOnS as number,
      bleederMaxJ: maxEnergyJ as number,
      outputBleederOhm: outputOhm as number,
      breakingCapacityA: 500,
      waveSpacingNs: 100_000,
      waveSamples: 200,
    };
    const { host, links } = virtualDevices({
      clock: this.clock,
      plant: this.plant,
      rig,
      random: new SeededRandom(1),
      latchedPorts: options.latched ? ['main'] : [],
    });
    this.host = host;
    this.link = links[0] as MemoryLink;
    void this.link.open({ line: (line) => this.hear(line), down: () => {} });
  }

  get nowMs(): number {
    return this.clock.nowMs();
  }

  see(seen: Partial<Seen>): this {
    Object.assign(this.plant, seen);
    return this;
  }

  protected advance(ms: number): void {
    this.clock.runUntil(this.clock.nowMs() + ms);
  }

  protected deliver(line: string): void {
    this.link.send(line);
  }
}
