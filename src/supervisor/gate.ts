/**
 * The outgoing gate: the one place every order passes on its way out, asked immediately before sending (for
 * durable orders that is after the journal has them on disk). Pure: it answers with a reason, or null.
 */
import type { Proof } from '../checks/check.js';
import { ORDERS, type Order, type OrderName } from '../rig/orders.js';
import type { Phase } from '../rig/roles.js';

export interface GateView {
  readonly phase: Phase;
  /** A trip is decided in this session. */
  readonly tripped: boolean;
  readonly ended: boolean;
  readonly proofs: ReadonlySet<Proof | 'proven-dead'>;
  /** The converter meets the train's voltage by itself; otherwise it is charged through a resistor. */
  readonly matchesVoltage: boolean;
  /** No reading that matters is older than its deadline and no port is silent. */
  readonly fresh: boolean;
  /** Ceiling of the current authority the device has confirmed, and whether it is still alive. */
  readonly authorityA: number;
  readonly matchCurrentA: number;
  /** Least limit the governor knows now. */
  readonly leastLimitA: number;
  /** The last set-point that left. */
  readonly setpointA: number;
}

/** Proofs that must stand when the order goes out; the isolation ones are exclusive in time, see below. */
const NEEDS: Partial<Record<OrderName, readonly Proof[]>> = {
  'close-train': ['secured', 'presence', 'isolation-dead'],
  'join-raft': ['secured', 'presence', 'train-closed'],
  'enable-converter': ['secured', 'presence', 'isolation-joined'],
  'close-pre': ['secured', 'presence', 'isolation-joined'],
  'close-p': ['secured', 'presence', 'isolation-joined'],
  'close-n': ['secured', 'presence', 'isolation-joined'],
  authority: ['secured', 'presence', 'isolation-joined', 'closed-p', 'closed-n'],
};

/** A converter that matches closes nothing on volts that do not match now. */
const MATCHED: readonly OrderName[] = ['close-p', 'close-n'];

/** Phases in which an order may go out at all; an order that waited for the disk into another phase is dropped. */
const PHASES_FOR: Partial<Record<OrderName, readonly Phase[]>> = {
  'close-train': ['joining-train'],
  'join-raft': ['joining-train', 'holding', 'tapering'],
  'enable-converter': ['matching-voltage', 'closing'],
  'close-pre': ['pre-charging'],
  'close-n': ['pre-charging', 'closing'],
  'close-p': ['closing'],
  authority: ['ramping', 'holding', 'tapering', 'ramping-down'],
};

/** @returns null when the order may go, else why it is dropped */
export function askGate(order: Order, view: GateView): string | null {
  const { permission } = ORDERS[order.name];
  if (order.name === 'unlock') {
    // I5: the plug is freed only with poles proven open and both sides proven dead.
    if (view.tripped) return 'a trip stands: the plug stays locked';
    return view.proofs.has('proven-dead') ? null : 'not proven dead';
  }
  if (permission === 'free') return null;
  if (view.tripped) {
    // After a trip only a falling set-point still goes out.
    return order.name === 'setpoint' && order.args.currentA <= view.authorityA ? null : 'a trip stands';
  }
  if (view.ended) return 'the session has ended';
  if (!view.fresh) return 'readings are not fresh';
  if (order.name === 'setpoint') {
    const { currentA, voltageV } = order.args;
    if (!(currentA >= 0 && voltageV >= 0)) return 'set-point is not a number';
    if (currentA <= view.matchCurrentA) return null;
    if (!(currentA <= view.authorityA)) return 'above the live current authority';
    // A falling one is always better sent than held back; a rising one needs both poles closed at this moment.
    const closed = view.proofs.has('closed-p') && view.proofs.has('closed-n');
    if (!closed && !(currentA <= view.setpointA)) return 'not proven now: both poles closed';
    return currentA <= view.leastLimitA + 0.005 ? null : 'above the least limit';
  }
  if (PHASES_FOR[order.name]?.includes(view.phase) !== true) return `not in phase ${view.phase}`;
  const needs = NEEDS[order.name] ?? [];
  // The match was proven before the phase: a voltmeter that dies, or a plug that is pulled, in between is seen here.
  const matched =
    view.matchesVoltage && MATCHED.includes(order.name) ? needs.concat('voltage-matched') : needs;
  const missing = matched.filter((p) => !view.proofs.has(p));
  return missing.length === 0 ? null : `not proven now: ${missing.join(', ')}`;
}
