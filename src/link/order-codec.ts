/**
 * Sections of an order frame: `<role tag>:<action>,<arguments…>`, one to eight. An order that is well written
 * but means nothing here becomes a misfit, so that the device can answer it instead of keeping silent.
 */
import { ORDER_NAMES, ORDERS, type Order, type OrderDefinition, type OrderName } from '../rig/orders.js';
import { ROLE_NAMES, ROLES } from '../rig/roles.js';
import { MAX_ORDERS, type Misfit } from './frames.js';
import { fromCount, MAX_COUNT, type Scan } from './scan.js';

const BY_TEXT = new Map<string, OrderName>();
for (const name of ORDER_NAMES) BY_TEXT.set(`${ROLES[ORDERS[name].role].tag}:${ORDERS[name].action}`, name);
const TAGS = new Set<string>(ROLE_NAMES.map((role) => ROLES[role].tag));
/** Most arguments read of a misfit; the dictionary's longest has three. */
const MAX_ARGS = 8;

/** @throws RangeError on an order that cannot be expressed: none is sent rather than another one. */
export function encodeOrders(orders: readonly (Order | Misfit)[]): string {
  if (orders.length < 1 || orders.length > MAX_ORDERS)
    throw new RangeError(`${orders.length} orders in a frame`);
  let text = '';
  for (const order of orders) {
    if (order.name === 'misfit') throw new RangeError('a misfit is not an order');
    const definition: OrderDefinition = ORDERS[order.name];
    text += ` ${ROLES[definition.role].tag}:${definition.action}`;
    const args = order.args as Record<string, number>;
    for (const { name, scale } of definition.args)
      text += `,${argumentCount(order.name, name, args[name], scale)}`;
  }
  return text;
}

/** Rounded down: what is sent is never above what was ordered. The nudge undoes binary fractions only. */
function argumentCount(order: string, name: string, value: number | undefined, scale: number): number {
  const count = Math.floor((value ?? Number.NaN) / scale + 1e-6) + 0;
  if (!(count >= 0 && count <= MAX_COUNT)) throw new RangeError(`order ${order}: ${name} is ${value}`);
  return count;
}

export function decodeOrders(scan: Scan, most: number): (Order | Misfit)[] {
  const orders: (Order | Misfit)[] = [];
  while (!scan.done && scan.why === null && orders.length < most) {
    scan.take(' ');
    const tag = scan.token();
    scan.take(':');
    const action = scan.token();
    const counts: number[] = [];
    while (scan.comma() && counts.length < MAX_ARGS) counts.push(scan.count());
    if (scan.why === null && !TAGS.has(tag)) scan.fail('unknown-role');
    orders.push(understand(`${tag}:${action}`, counts));
  }
  if (orders.length === 0) scan.fail('bad-grammar');
  return orders;
}

function understand(text: string, counts: readonly number[]): Order | Misfit {
  const name = BY_TEXT.get(text);
  if (name === undefined) return { name: 'misfit', answer: 'unknown-order', text };
  const definition: OrderDefinition = ORDERS[name];
  if (counts.length !== definition.args.length || counts.some(Number.isNaN)) {
    return { name: 'misfit', answer: 'bad-argument', text };
  }
  const args: Record<string, number> = {};
  definition.args.forEach((argument, i) => {
    args[argument.name] = fromCount(counts[i]!, argument.scale);
  });
  return { name, args } as unknown as Order;
}
