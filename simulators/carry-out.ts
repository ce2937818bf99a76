/** What each order drives: coils, relays, references. Nothing is permitted or refused here; that is firmware. */
import type { Order } from '../src/rig/orders.js';
import type { Parts } from './parts.js';

/** @param outputV present voltage of the output, from where an enabled converter starts */
export function carryOut(order: Order, parts: Parts, outputV: number, nowMs: number): void {
  const { converter, poleP, poleN, polePre, train, rafts, bleeders, stand, isolation, pilot, supply } = parts;
  switch (order.name) {
    case 'enable-converter':
      converter.enable(order.args.matchA, outputV);
      return;
    case 'disable-converter':
      converter.disable();
      return;
    case 'authority':
      converter.setAuthority(order.args.ceilingA, order.args.slopeAPerS, order.args.lifeMs, nowMs);
      return;
    case 'setpoint':
      converter.setPoint(order.args.currentA, order.args.voltageV);
      return;
    case 'close-p':
      poleP.drive(true, nowMs);
      return;
    case 'open-p':
      poleP.drive(false, nowMs);
      return;
    case 'close-n':
      poleN.drive(true, nowMs);
      return;
    case 'open-n':
      poleN.drive(false, nowMs);
      return;
    case 'close-pre':
      // A rig without pre-charge has no such coil.
      if (parts.rig.precharge !== undefined) polePre.drive(true, nowMs);
      return;
    case 'open-pre':
      polePre.drive(false, nowMs);
      return;
    case 'close-train':
      train.p.drive(true, nowMs);
      train.n.drive(true, nowMs);
      return;
    case 'open-train':
      train.p.drive(false, nowMs);
      train.n.drive(false, nowMs);
      return;
    case 'join-raft':
      rafts[order.args.raft - 1]?.order(true, nowMs);
      return;
    case 'part-raft':
      rafts[order.args.raft - 1]?.order(false, nowMs);
      return;
    case 'bleed-output':
      bleeders.switch('output', order.args.on !== 0);
      return;
    case 'bleed-plug':
      bleeders.switch('plug', order.args.on !== 0);
      return;
    case 'lock':
      stand.order(true, nowMs);
      return;
    case 'unlock':
      stand.order(false, nowMs);
      return;
    case 'isolate':
      isolation.connect(order.args.point, order.args.resistor);
      return;
    case 'pilot':
      pilot?.change({ sourceOn: order.args.on !== 0 }, nowMs);
      return;
    case 'trip-supply':
      supply.trip(nowMs);
      return;
    case 'make-safe':
    case 'clear-latch':
    case 'waveform':
      // Sequences and answers of the firmware; nothing here moves by them alone.
      return;
  }
}
