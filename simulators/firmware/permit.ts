/** Which orders the device refuses, whoever asks. The last line before a coil is driven. */
import type { ServedRole } from '../../src/link/frames.js';
import { type Answer, ORDERS, type Order } from '../../src/rig/orders.js';
import type { Outputs } from './outputs.js';
import type { Sensors } from './sensors.js';

/** Touchable below this. */
const SAFE_V = 60;

export interface DeviceState {
  readonly roles: readonly ServedRole[];
  readonly outputs: Outputs;
  readonly sensors: Sensors;
  readonly latched: boolean;
  readonly madeSafe: boolean;
  readonly sequenceRunning: boolean;
  /** A feed frame of this session came within the watchdog time. */
  readonly fed: boolean;
}

/** Null when the order may be carried out. */
export function permit(order: Order, state: DeviceState): Answer | null {
  if (!serves(order, state)) return 'unknown-order';
  if (!argumentsFit(order, state.roles)) return 'bad-argument';
  const energising = energises(order);
  if (energising || order.name === 'unlock') {
    if (state.latched) return 'latched';
    if (state.madeSafe) return 'not-permitted';
  }
  if (energising && !state.fed) return 'not-permitted';
  // While the sequence runs the device alone decides about everything it touches.
  if (state.sequenceRunning && touchesSequence(order)) return 'not-permitted';
  return byState(order, state);
}

function serves(order: Order, { roles, sensors }: DeviceState): boolean {
  const { role } = ORDERS[order.name];
  // What is not fitted is not driven: its coil would count as energised for ever. Opening it is done already.
  if (order.name === 'close-pre' && !sensors.hasPre) return false;
  if (role === 'device') return true;
  // Which raft is asked for is an argument, not another order.
  return role === 'raft' ? roles.some((r) => r.startsWith('raft')) : roles.includes(role);
}

const isFlag = (n: number): boolean => n === 0 || n === 1;

function argumentsFit(order: Order, roles: readonly ServedRole[]): boolean {
  switch (order.name) {
    case 'join-raft':
    case 'part-raft':
      return roles.includes(`raft${order.args.raft}` as ServedRole);
    case 'bleed-output':
    case 'bleed-plug':
    case 'pilot':
      return isFlag(order.args.on);
    case 'isolate':
      return [0, 1, 2, 3].includes(order.args.point) && [0, 1, 2].includes(order.args.resistor);
    default:
      return Object.values(order.args).every((n) => n >= 0);
  }
}

/** Can make something live, or live more. Withdrawing and setting zero cannot. */
function energises(order: Order): boolean {
  if (order.name === 'setpoint') return order.args.currentA > 0;
  if (order.name === 'authority') return order.args.ceilingA > 0;
  return ORDERS[order.name].permission === 'durable';
}

function touchesSequence(order: Order): boolean {
  return ['clear-latch', 'bleed-output', 'bleed-plug', 'isolate'].includes(order.name);
}

function byState(order: Order, { outputs, sensors }: DeviceState): Answer | null {
  switch (order.name) {
    case 'clear-latch':
      return contactorsOpen(outputs, sensors) && sensors.allBelow(SAFE_V) ? null : 'not-permitted';
    case 'unlock': {
      const plugV = sensors.plugV();
      const dead = plugV === null || plugV < SAFE_V;
      return dead && contactorsOpen(outputs, sensors) && !outputs.trainClosed ? null : 'not-permitted';
    }
    case 'bleed-output':
      // Both poles closed: it would bleed the pack.
      return order.args.on === 1 && outputs.coilP && outputs.coilN ? 'not-permitted' : null;
    case 'bleed-plug':
      return order.args.on === 1 && outputs.trainClosed ? 'not-permitted' : null;
    default:
      return null;
  }
}

/** As ordered, and as the auxiliaries say where this port reads them; unreadable is not open. */
function contactorsOpen(outputs: Outputs, sensors: Sensors): boolean {
  return !outputs.chargerClosed && sensors.contactorsReadOpen();
}
