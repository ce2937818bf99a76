/** Turns a command of the machine into orders with figures. The machine says what, the rig says how much. */
import type { Command } from '../../machines/vocabulary.js';
import type { Order } from '../rig/orders.js';
import { ISOLATION_POINT, ISOLATION_RESISTOR } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';

export interface CommandFigures {
  /** Train bus volts as last read. */
  readonly trainV: number;
  readonly plugV: number;
  readonly slopeAPerS: number;
}

const one = (...orders: Order[]): Order[] => orders;
const bare = (name: Exclude<Order['name'], 'authority'>): Order => ({ name, args: {} }) as Order;

/**
 * Current ceiling of an authority: what the ratings permit, or the hold point. The governor stays below the
 * least limit of the moment inside it.
 */
export function authorityCeilingA(rig: Rig, full: boolean): number {
  const rated = Math.min(rig.converter.maxCurrentA, rig.connection.ratedCurrentA);
  return full ? rated : rated * rig.ramp.holdPointShare;
}

export function authority(rig: Rig, full: boolean, slopeAPerS: number): Order {
  return {
    name: 'authority',
    args: { ceilingA: authorityCeilingA(rig, full), slopeAPerS, lifeMs: rig.link.authorityLifeMs },
  };
}

export const isolate = (point: number, resistor: number): Order => ({
  name: 'isolate',
  args: { point, resistor },
});

export function ordersOf(command: Command, rig: Rig, figures: CommandFigures): Order[] {
  const { matchCurrentA } = rig.converter;
  switch (command) {
    case 'pilot-on':
      return rig.pilot ? one({ name: 'pilot', args: { on: 1 } }) : [];
    case 'pilot-off':
      return rig.pilot ? one({ name: 'pilot', args: { on: 0 } }) : [];
    case 'enable-converter':
      return one({ name: 'enable-converter', args: { matchA: matchCurrentA } });
    case 'match-voltage':
      return one({ name: 'setpoint', args: { currentA: matchCurrentA, voltageV: figures.trainV } });
    case 'probe-poles':
      return one({
        name: 'setpoint',
        args: { currentA: matchCurrentA, voltageV: figures.plugV + rig.contactors.probeV },
      });
    case 'close-pre':
    case 'open-pre':
      return rig.precharge ? one(bare(command)) : [];
    case 'authorise-hold-point':
      return one(authority(rig, false, figures.slopeAPerS));
    case 'authorise-full':
      return one(authority(rig, true, figures.slopeAPerS));
    case 'bleed-output':
      return one({ name: 'bleed-output', args: { on: 1 } });
    case 'bleed-plug':
      return one({ name: 'bleed-plug', args: { on: 1 } });
    case 'end-bleeding':
      return one({ name: 'bleed-output', args: { on: 0 } }, { name: 'bleed-plug', args: { on: 0 } });
    case 'part-poles':
      // The known resistor draws the plug side away from chassis, so that two open poles show (DEVELOPERS.md).
      return one(isolate(ISOLATION_POINT.joined, ISOLATION_RESISTOR.positive));
    case 'isolation-off':
      return one(isolate(ISOLATION_POINT.off, ISOLATION_RESISTOR.none));
    case 'ramp-down':
    case 'set-latch':
      // The governor ramps down; the latch is a file and a flag in the device, set with make-safe.
      return [];
    case 'lock':
    case 'unlock':
    case 'close-train':
    case 'open-train':
    case 'close-p':
    case 'open-p':
    case 'close-n':
    case 'open-n':
    case 'disable-converter':
    case 'make-safe':
    case 'clear-latch':
      return one(bare(command));
  }
}
