/**
 * Small rows of steps written by hand, for the invariants to judge. No machine is asked here, so that a judge that
 * sleeps is found out even while the machine behaves.
 */
import { expect } from 'vitest';
import {
  brokenOnMachine,
  type MachineStep,
  type Memory,
  NOTHING_YET,
  remember,
} from '../../machines/invariants.js';
import { type Command, type SessionFlags, TIMERS } from '../../machines/vocabulary.js';

export type EventType = MachineStep['event'];
interface Where {
  /** The state before; one that is no end when not said. */
  readonly at?: string;
  /** The state after; the same when not said. */
  readonly to?: string;
  readonly path?: SessionFlags['path'];
  /** The latch before and after; as a well-behaved machine would have it when not said. */
  readonly latch?: readonly [before: boolean, after: boolean];
  readonly refused?: true;
}
export type Row = readonly [event: EventType, commands?: readonly Command[], where?: Where];

const isTrip = (event: EventType): boolean => event === 'trip-0' || event === 'trip-1';

/** Takes these steps one after the other; those before the last must break nothing. */
function take(rows: readonly Row[]): { readonly said: string[]; readonly memory: Memory } {
  let memory = NOTHING_YET;
  let latched = false;
  let said: string[] = [];
  for (const [event, commands = [], where = {}] of rows) {
    expect(said, `before ${event}`).toEqual([]);
    const { at = 'under-way', to = at, path = 'match', refused } = where;
    const after = event !== 'acknowledge' && (latched || isTrip(event));
    const latch: readonly [boolean, boolean] = where.latch ?? [latched, refused ? latched : after];
    const flags = { path, rafts: 'none', trip: 'none' } as const;
    const step: MachineStep = {
      before: { state: at, flags: { ...flags, latched: latch[0] } },
      event,
      taken: refused !== true,
      reached: { state: to, flags: { ...flags, latched: latch[1] } },
      commands,
    };
    said = brokenOnMachine(memory, step).map(({ id, why }) => `${id} ${why}`);
    memory = remember(memory, step);
    latched = latch[1];
  }
  return { said, memory };
}
/** What the last of these steps breaks. */
export const judge = (rows: readonly Row[]): string[] => take(rows).said;
/** What is remembered after them. */
export const remembered = (...rows: Row[]): Memory => take(rows).memory;
export const keeps = (...rows: Row[]) => expect(judge(rows)).toEqual([]);
export const breaks = (rows: readonly Row[], ...what: string[]) => expect(judge(rows)).toEqual(what);

export const START: Row = ['start', ['lock']];
/** All that is proven on the way to the poles, in order. */
export const PROVEN: readonly EventType[] = [
  'secured',
  'presence',
  'isolation-dead',
  'isolation-joined',
  'voltage-matched',
];
export const rowsOf = (events: readonly EventType[]): Row[] => events.map((event): Row => [event]);
export const provenBut = (...left: EventType[]): Row[] => [
  START,
  ...rowsOf(PROVEN.filter((e) => !left.includes(e))),
];
export const JOINED = provenBut('voltage-matched');
export const READY = provenBut();
/** Both poles closed and probed: authority may be given. */
const closedBut = (...left: EventType[]): Row[] => [
  ...READY,
  ...rowsOf((['closed-p', 'closed-n', 'poles-follow'] as const).filter((e) => !left.includes(e))),
];
export const CLOSED = closedBut();
export const AUTHORISED: readonly Row[] = [...CLOSED, ['at-hold-point', ['authorise-full']]];
export const ENDS = ['parked', 'released', 'safe', 'not-proven-dead'];
export const CONTACTORS = ['close-train', 'close-pre', 'close-p', 'close-n'] as const;
export const AUTHORITIES = ['authorise-hold-point', 'authorise-full'] as const;
export const ENERGISING = [
  ...CONTACTORS,
  ...AUTHORITIES,
  'enable-converter',
  'match-voltage',
  'probe-poles',
] as const;
/** Timers whose end leads on in the sequence; the end of any other means that something did not come. */
export const STEPS_OF_THE_SEQUENCE = ['pole-settling', 'tripped-ramping-down', 'making-safe'];
export const DEADLINES = TIMERS.filter((t) => !STEPS_OF_THE_SEQUENCE.includes(t));
