/** Which port serves which role. */
import { servedRoles } from '../link/frames.js';
import { ORDERS, type Order } from '../rig/orders.js';
import type { Rig } from '../rig/schema.js';

/** Ports (index in the rig) that carry out an order. An order to the device itself goes to every port. */
export function portsOf(order: Order, rig: Rig): number[] {
  const all = rig.link.ports.map((_, i) => i);
  const { role } = ORDERS[order.name];
  if (role === 'device') return all;
  const wanted =
    order.name === 'join-raft' || order.name === 'part-raft' ? `raft${order.args.raft}` : (role as string);
  return all.filter((i) =>
    (servedRoles(rig.link.ports[i]?.roles ?? [], rig.battery.rafts.length) as string[]).includes(wanted),
  );
}
