/** Random frames within what the dictionary can express, for the property tests of the codec. */
import fc from 'fast-check';
import type {
  Hello,
  OrderFrame,
  Report,
  ServedRole,
  ToDevice,
  ToSupervisor,
  Welcome,
} from '../../src/link/frames.js';
import { servedRoles, TAG_KINDS } from '../../src/link/frames.js';
import { fromCount } from '../../src/link/scan.js';
import { ANSWERS, type Answer, ORDER_NAMES, ORDERS, type Order } from '../../src/rig/orders.js';
import { ASSIGNABLE_ROLES, PHASES, ROLE_NAMES, ROLES, type Role } from '../../src/rig/roles.js';

const U32 = 2 ** 32 - 1;
export const nonce = fc.integer({ min: 1, max: U32 }).map((n) => n.toString(16).padStart(8, '0'));
export const seq = fc.integer({ min: 1, max: U32 });
const token = fc.stringMatching(/^[A-Za-z0-9._-]{1,32}$/);

const count = fc.oneof(
  { weight: 6, arbitrary: fc.integer({ min: -99_999, max: 99_999 }) },
  { weight: 2, arbitrary: fc.constant(Number.NaN) },
  { weight: 1, arbitrary: fc.constantFrom(-(2 ** 31), U32, 0, -1) },
);

const reading = (role: Role) =>
  fc.tuple(...ROLES[role].fields.map(() => count)).map((counts) => {
    const fields = ROLES[role].fields;
    return Object.fromEntries(fields.map((f, i) => [f.name, fromCount(counts[i]!, f.scale)]));
  });

export const report: fc.Arbitrary<Report> = fc
  .tuple(
    fc.subarray(ROLE_NAMES.filter((r) => r !== 'device' && r !== 'raft')),
    fc.array(fc.boolean(), { maxLength: 8 }),
  )
  .chain(([some, rafts]) => {
    // A raft that is not there at the end of the list is simply not in the list.
    const list = rafts.slice(0, rafts.lastIndexOf(true) + 1);
    return fc.record({
      verb: fc.constant('report' as const),
      roles: fc.record({
        device: reading('device'),
        ...Object.fromEntries(some.map((r) => [r, reading(r)])),
        rafts: fc.tuple(...list.map((there) => (there ? reading('raft') : fc.constant(null)))),
      }),
    });
  }) as unknown as fc.Arbitrary<Report>;

const order: fc.Arbitrary<Order> = fc.constantFrom(...ORDER_NAMES).chain((name) => {
  const args = ORDERS[name].args;
  return fc.tuple(...args.map(() => fc.integer({ min: 0, max: 9_999_999 }))).map((counts) => ({
    name,
    args: Object.fromEntries(args.map((a, i) => [a.name, fromCount(counts[i]!, a.scale)])),
  }));
}) as fc.Arbitrary<Order>;

const roles: fc.Arbitrary<ServedRole[]> = fc.subarray(servedRoles(ASSIGNABLE_ROLES, 8), { minLength: 1 });
const limits = {
  maxCurrentA: fc.integer({ min: 0, max: 500_000 }).map((n) => fromCount(n, 0.01)),
  maxVoltageV: fc.integer({ min: 0, max: 20_000 }).map((n) => fromCount(n, 0.1)),
  roles,
  version: fc.integer({ min: 1, max: 9999 }),
  periodMs: fc.integer({ min: 1, max: 10_000 }),
  watchdogMs: fc.integer({ min: 1, max: 10_000 }),
};
const hello: fc.Arbitrary<Hello> = fc.record({ verb: fc.constant('hello'), ...limits });
const welcome: fc.Arbitrary<Welcome> = fc.record({
  verb: fc.constant('welcome'),
  ...limits,
  model: token,
  serial: token,
  firmware: token,
  calibratedOn: fc.integer({ min: 19000101, max: 99991231 }),
  latched: fc.boolean(),
});
const orderFrame: fc.Arbitrary<OrderFrame> = fc.record({
  verb: fc.constant('order'),
  orders: fc.array(order, { minLength: 1, maxLength: 8 }),
});

export const toDevice: fc.Arbitrary<ToDevice> = fc.oneof(
  orderFrame,
  hello,
  fc.record({ verb: fc.constant('feed' as const), phase: fc.nat({ max: PHASES.length - 1 }) }),
);

const answer = fc
  .tuple(seq, fc.constantFrom(...(Object.keys(ANSWERS) as Answer[])), fc.nat({ max: 7 }))
  .map(([re, a, i]) => ({ verb: 'answer' as const, re, answer: a, failed: a === 'done' ? null : i }));
const tag = fc.record({
  verb: fc.constant('tag' as const),
  clockMs: fc.nat({ max: U32 }),
  kind: fc.constantFrom(...Object.keys(TAG_KINDS)),
  value: count,
});
const wave = fc.record({
  verb: fc.constant('wave' as const),
  re: fc.nat({ max: U32 }),
  part: fc.constantFrom(1, 2, 3),
  parts: fc.constantFrom(3, 64),
  spacingNs: fc.integer({ min: 1, max: 10_000_000 }),
  samplesA: fc.array(
    fc.integer({ min: -20_000, max: 20_000 }).map((n) => fromCount(n, 1e-6)),
    { minLength: 1, maxLength: 128 },
  ),
});

export const toSupervisor: fc.Arbitrary<ToSupervisor> = fc.oneof(report, welcome, answer, tag, wave);
