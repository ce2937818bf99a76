/** A world on the depot rig with short ways to take it through a session. */

import { World, type WorldOptions } from '../../simulators/world.js';
import { loadRig } from '../../src/rig/load.js';
import type { Order, OrderName } from '../../src/rig/orders.js';
import { ISOLATION_POINT, ISOLATION_RESISTOR } from '../../src/rig/roles.js';
import type { Rig } from '../../src/rig/schema.js';

type Writable<T> = T extends object ? { -readonly [K in keyof T]: Writable<T[K]> } : T;

/** A copy of a shipped rig that a test may change. */
export function rigOf(name: string, edit: (rig: Writable<Rig>) => void = () => {}): Rig {
  const rig = structuredClone(loadRig(name).rig) as Writable<Rig>;
  edit(rig);
  return rig as Rig;
}

type ArgsOf<N extends OrderName> = Extract<Order, { name: N }>['args'];

export class Bench {
  readonly world: World;
  readonly rig: Rig;

  constructor(options: Partial<WorldOptions> = {}) {
    this.rig = options.rig ?? rigOf('depot-cable');
    this.world = new World({ seed: 7, ...options, rig: this.rig });
  }

  order<N extends OrderName>(name: N, args: ArgsOf<N>): void {
    this.world.apply({ name, args } as unknown as Order);
  }

  go(ms: number): void {
    this.world.advanceTo(this.world.nowMs + ms);
  }

  /** Locked, pilot on, train contactors closed, all rafts joined. */
  join(): void {
    this.order('lock', {});
    this.order('pilot', { on: 1 });
    this.order('close-train', {});
    this.go(400);
    for (let raft = 1; raft <= this.rig.battery.rafts.length; raft++) {
      this.order('join-raft', { raft });
      this.go(450);
    }
  }

  match(): void {
    this.order('enable-converter', { matchA: this.rig.converter.matchCurrentA });
    const voltageV = this.world.read('train').trainV;
    this.order('setpoint', { currentA: this.rig.converter.matchCurrentA, voltageV });
    this.go(1500 + (1000 * voltageV) / this.rig.converter.voltageSlopeVPerS);
    this.order('setpoint', { currentA: 0, voltageV });
    this.go(200);
  }

  close(): void {
    this.order('close-p', {});
    this.go(120);
    this.order('close-n', {});
    this.go(120);
  }

  /** Joined, matched, closed; then up to this current and a little longer. */
  chargeAt(currentA: number): void {
    this.join();
    this.match();
    this.close();
    this.setCurrent(currentA);
    this.go((1000 * currentA) / this.rig.ramp.upAPerS + 500);
  }

  setCurrent(currentA: number, lifeMs = 100_000_000): void {
    const ceilingA = Math.max(currentA, 1);
    this.order('authority', { ceilingA, slopeAPerS: this.rig.ramp.upAPerS, lifeMs });
    this.order('setpoint', { currentA, voltageV: this.rig.converter.maxVoltageV });
  }

  /** The device's make-safe sequence, coarsely. */
  makeSafe(): void {
    this.order('disable-converter', {});
    this.order('isolate', { point: ISOLATION_POINT.joined, resistor: ISOLATION_RESISTOR.positive });
    this.go(100);
    this.order('open-p', {});
    this.go(20);
    this.order('bleed-output', { on: 1 });
    this.go(180);
    this.order('open-n', {});
    this.go(200);
    this.order('open-train', {});
    this.go(150);
    this.order('bleed-plug', { on: 1 });
    this.go(3000);
  }
}
