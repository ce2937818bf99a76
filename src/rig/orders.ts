/**
 * What the supervisor can order, as data: the other half of the dictionary in roles.ts.
 *
 * An order names the role that carries it out, an action and its arguments, and what it takes to send it:
 * - `durable`: it can make something live. It must be on disk in the journal before it is sent, and the
 *   outgoing gate asks once more before it goes.
 * - `inside-authority`: it moves within a live current authority (which was durable). The gate asks, the
 *   journal follows by group commit.
 * - `free`: it only makes safer, or cannot make anything live. It never waits for the journal.
 */
import type { AssignableRole } from './roles.js';

export interface ArgumentDefinition {
  readonly name: string;
  readonly unit: string;
  readonly scale: number;
}

export type Permission = 'durable' | 'inside-authority' | 'free';

export interface OrderDefinition {
  readonly role: AssignableRole | 'device';
  /** Word on the wire. */
  readonly action: string;
  readonly args: readonly ArgumentDefinition[];
  readonly permission: Permission;
  readonly text: string;
}

const order = <A extends readonly ArgumentDefinition[]>(
  role: AssignableRole | 'device',
  action: string,
  args: A,
  permission: Permission,
  text: string,
) => ({ role, action, args, permission, text }) as const;
const arg = <N extends string>(name: N, unit: string, scale: number) => ({ name, unit, scale }) as const;

export const ORDERS = {
  'make-safe': order(
    'device',
    'make-safe',
    [],
    'free',
    'run the whole make-safe sequence and latch (category 0)',
  ),
  'clear-latch': order(
    'device',
    'clear-latch',
    [],
    'free',
    'clear the device latch after an acknowledgement by name',
  ),
  'enable-converter': order(
    'converter',
    'enable',
    [arg('matchA', 'A', 0.01)],
    'durable',
    'ready to deliver; set-points up to matchA need no authority (to raise the output voltage and to probe)',
  ),
  'disable-converter': order(
    'converter',
    'disable',
    [],
    'free',
    'switch off, current falls at its emergency slope',
  ),
  authority: order(
    'converter',
    'authority',
    [arg('ceilingA', 'A', 0.01), arg('slopeAPerS', 'A/s', 0.01), arg('lifeMs', 'ms', 1)],
    'durable',
    'set-points up to this ceiling and slope are permitted for this long; 0 A withdraws it',
  ),
  setpoint: order(
    'converter',
    'set',
    [arg('currentA', 'A', 0.01), arg('voltageV', 'V', 0.1)],
    'inside-authority',
    'current set-point and voltage limit; above the authority it is rejected',
  ),
  'close-p': order('contactor', 'close-p', [], 'durable', 'close contactor P'),
  'open-p': order('contactor', 'open-p', [], 'free', 'open contactor P'),
  'close-n': order('contactor', 'close-n', [], 'durable', 'close contactor N'),
  'open-n': order('contactor', 'open-n', [], 'free', 'open contactor N'),
  'close-pre': order('contactor', 'close-pre', [], 'durable', 'close the pre-charge contactor'),
  'open-pre': order('contactor', 'open-pre', [], 'free', 'open the pre-charge contactor'),
  'close-train': order('train', 'close', [], 'durable', 'ask the train to close its contactors to the plug'),
  'open-train': order('train', 'open', [], 'free', 'ask the train to open its contactors to the plug'),
  'join-raft': order(
    'raft',
    'join',
    [arg('raft', '', 1)],
    'durable',
    'join raft number n (from 1) to the train bus',
  ),
  'part-raft': order('raft', 'part', [arg('raft', '', 1)], 'free', 'part raft number n from the train bus'),
  'bleed-output': order('bleeder', 'output', [arg('on', '', 1)], 'free', 'output bleeder on (1) or off (0)'),
  'bleed-plug': order('bleeder', 'plug', [arg('on', '', 1)], 'free', 'plug bleeder on (1) or off (0)'),
  lock: order('latch', 'lock', [], 'free', 'lock the plug, or block the shoes down'),
  unlock: order('latch', 'unlock', [], 'free', 'free the plug, or release the shoes'),
  isolate: order(
    'isolation',
    'connect',
    [arg('point', '', 1), arg('resistor', '', 1)],
    'free',
    'connect to a point (see roles) and switch the known resistor; a dead point is injected with low voltage',
  ),
  pilot: order('loop', 'pilot', [arg('on', '', 1)], 'free', 'pilot source on (1) or off (0)'),
  waveform: order('loop', 'waveform', [], 'free', 'send one burst of pilot samples'),
  'trip-supply': order('supply', 'trip', [], 'free', 'trip the supply breaker'),
} as const satisfies Record<string, OrderDefinition>;

export type OrderName = keyof typeof ORDERS;
export const ORDER_NAMES = Object.keys(ORDERS) as readonly OrderName[];

type ArgsOf<O extends OrderName> = { readonly [N in (typeof ORDERS)[O]['args'][number]['name']]: number };

/** One order as data, e.g. `{ name: 'setpoint', args: { currentA: 120, voltageV: 790 } }`. */
export type Order = { [O in OrderName]: { readonly name: O; readonly args: ArgsOf<O> } }[OrderName];

/** Answer of the device to an order frame. */
export const ANSWERS = {
  done: 0,
  'not-permitted': 1,
  latched: 2,
  'no-authority': 3,
  'unknown-order': 4,
  'bad-argument': 5,
} as const;
export type Answer = keyof typeof ANSWERS;
