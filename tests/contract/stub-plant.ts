/**
 * A plant that does what it is told at once and keeps a diary: enough to see what a device's firmware orders,
 * and when. Volts and amps are whatever the test sets.
 */
import type { HostedPlant } from '../../simulators/device-host.js';
import { NO_TROUBLE, type Trouble } from '../../src/link/memory.js';
import type { Order } from '../../src/rig/orders.js';
import { type Phase, type ReadingOf, ROLES, type Role } from '../../src/rig/roles.js';
import type { Rig } from '../../src/rig/schema.js';

export class StubPlant implements HostedPlant {
  nowMs = 0;
  readonly diary: { readonly atMs: number; readonly order: Order }[] = [];
  readonly phases: Phase[] = [];
  readonly deadPorts = new Set<string>();
  trouble: Trouble = NO_TROUBLE;
  currentA = 0;
  outputV = 0;
  plugV = 0;
  /** Lowest and highest since the meter was read, as a plant keeps them. */
  private minA = Number.POSITIVE_INFINITY;
  private maxA = Number.NEGATIVE_INFINITY;
  private samples = 0;
  private closed = { p: 0, n: 0, pre: 0 };
  /** Called for each millisecond, for tests that let volts decay. */
  onStep: (nowMs: number) => void = () => {};

  advanceTo(tMs: number): void {
    while (this.nowMs < tMs) {
      this.nowMs++;
      this.onStep(this.nowMs);
      this.minA = Math.min(this.minA, this.currentA);
      this.maxA = Math.max(this.maxA, this.currentA);
    }
  }

  apply(order: Order): void {
    this.diary.push({ atMs: this.nowMs, order });
    if (order.name === 'close-p' || order.name === 'open-p') this.closed.p = order.name === 'close-p' ? 1 : 0;
    if (order.name === 'close-n' || order.name === 'open-n') this.closed.n = order.name === 'close-n' ? 1 : 0;
  }

  setPhase(phase: Phase): void {
    this.phases.push(phase);
  }

  read<R extends Exclude<Role, 'device'>>(role: R): ReadingOf<R> {
    const blank = Object.fromEntries(ROLES[role].fields.map((f) => [f.name, 0]));
    return { ...blank, sample: ++this.samples % 65536, ...this.values(role) } as unknown as ReadingOf<R>;
  }

  private values(role: Role): Record<string, number> {
    const { currentA, outputV, plugV, closed } = this;
    if (role === 'converter') return { outputA: currentA, outputV };
    if (role === 'contactor') return { closedP: closed.p, closedN: closed.n, closedPre: Number.NaN };
    if (role !== 'meter') return {};
    const half = { outputPositiveV: outputV / 2, plugPositiveV: plugV / 2 };
    const values = { currentA, outputV, plugV, currentMinA: this.minA, currentMaxA: this.maxA, ...half };
    this.minA = currentA;
    this.maxA = currentA;
    return values;
  }

  pilotWaveform() {
    return { samplesA: Float64Array.from({ length: 200 }, (_, i) => i * 1e-5), spacingS: 1e-4 };
  }

  portDead(port: string): boolean {
    return this.deadPorts.has(port);
  }

  lineTrouble(): Trouble {
    return this.trouble;
  }

  /** `name` or `name:first argument` of everything ordered since, with its time. */
  since(atMs: number): string[] {
    return this.diary
      .filter((d) => d.atMs >= atMs)
      .map(({ atMs: t, order }) => {
        const first = Object.values(order.args)[0];
        return `${t - atMs} ${order.name}${first === undefined ? '' : `:${first}`}`;
      });
  }
}

export const ALL_ROLES = [
  'converter',
  'meter',
  'loop',
  'isolation',
  'contactor',
  'bleeder',
  'latch',
  'berth',
  'train',
  'raft',
  'supply',
  'stop',
];

/** The part of a rig that firmware and host look at. */
export function stubRig(
  ports: { name: string; roles: string[] }[] = [{ name: 'main', roles: ALL_ROLES }],
): Rig {
  return {
    converter: { maxCurrentA: 300, maxVoltageV: 900, matchCurrentA: 2 },
    ramp: { downAPerS: 100 },
    contactors: { routineBreakA: 5, breakingCapacityA: 500 },
    bleeder: { outputOhm: 200, plugOhm: 1000, maxOnS: 5, maxEnergyJ: 10_000, safeV: 60 },
    battery: { rafts: [{ name: 'a' }, { name: 'b' }] },
    link: {
      periodMs: 100,
      deviceWatchdogMs: 300,
      silenceMs: 500,
      ports: ports.map((p) => ({ ...p, baud: 921600 })),
    },
  } as unknown as Rig;
}
