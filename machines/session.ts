/**
 * The session machine: the sequence of a charge, its trips and its latch.
 *
 * Pure and finite. It has no timers of its own, reads nothing and keeps no numbers: proofs, findings, orders
 * and elapsed timers come in as events, commands go out as data. The live supervisor, the exploration, the
 * replay of a journal and the drawn chart all use this object.
 */
import { assign, setup } from 'xstate';
import type { Command, SessionEvent, SessionFlags, TimerId } from './vocabulary.js';

const command = (name: Command) => ({ type: 'command', params: { command: name } }) as const;
const start = (timer: TimerId) => ({ type: 'start-timer', params: { timer } }) as const;
const cancel = (timer: TimerId) => ({ type: 'cancel-timer', params: { timer } }) as const;

/** Entry and exit of a phase that has a deadline. */
const withDeadline = (timer: TimerId, ...commands: Command[]) => ({
  entry: [...commands.map(command), start(timer)],
  exit: [cancel(timer)],
});

const TRIPPED = '#session.making-safe';
const tripTo = (trip: 'trip-0' | 'trip-1', target: string) => ({
  target,
  actions: { type: `latch-${trip}` } as const,
});
/** Phases in which no current flows: both kinds of trip make safe at once. */
const tripsAtOnce = {
  'trip-0': tripTo('trip-0', TRIPPED),
  'trip-1': tripTo('trip-1', TRIPPED),
} as const;
/** Phases with current: trip-1 ramps down first. */
const tripsUnderCurrent = {
  'trip-0': tripTo('trip-0', TRIPPED),
  'trip-1': tripTo('trip-1', '#session.tripped-ramping-down'),
} as const;
const overdue = tripTo('trip-0', TRIPPED);
const RAMP_DOWN = '#session.ramping-down';

export const sessionMachine = setup({
  types: {
    context: {} as SessionFlags,
    input: {} as Partial<Pick<SessionFlags, 'path' | 'latched'>> | undefined,
    events: {} as SessionEvent,
    tags: {} as 'live' | 'current' | 'governed' | 'may-join' | 'tripped' | 'ended',
  },
  actions: {
    // Named actions only: the supervisor reads their names and parameters as data and runs nothing.
    command: (_, _params: { command: Command }) => {},
    'start-timer': (_, _params: { timer: TimerId }) => {},
    'cancel-timer': (_, _params: { timer: TimerId }) => {},
    'latch-trip-0': assign({ trip: 'trip-0', latched: true }),
    // Permitted only where no trip stands yet, so that it never makes one milder.
    'latch-trip-1': assign({ trip: 'trip-1', latched: true }),
    acknowledged: assign({ trip: 'none', latched: false, rafts: 'none' }),
    'rafts-some': assign({ rafts: 'some' }),
    'rafts-all': assign({ rafts: 'all' }),
  },
  guards: {
    unlatched: ({ context }) => !context.latched,
    latched: ({ context }) => context.latched,
    'pre-charges': ({ context }) => context.path === 'pre-charge',
  },
}).createMachine({
  id: 'session',
  context: ({ input }) => ({
    path: input?.path ?? 'match',
    rafts: 'none',
    trip: 'none',
    latched: input?.latched ?? false,
  }),
  initial: 'parked',
  states: {
    /** Nothing ordered. Leaving it is permitted by the supervisor's may-start; a latch forbids it here too. */
    parked: {
      on: {
        start: { guard: 'unlatched', target: 'securing' },
        acknowledge: { guard: 'latched', actions: [{ type: 'acknowledged' }, command('clear-latch')] },
      },
    },
    securing: {
      ...withDeadline('securing', 'lock'),
      on: { secured: 'proving-presence', stop: 'bleeding', 'elapsed.securing': overdue, ...tripsAtOnce },
    },
    'proving-presence': {
      ...withDeadline('proving-presence', 'pilot-on'),
      on: {
        presence: 'checking-isolation',
        stop: 'bleeding',
        'elapsed.proving-presence': overdue,
        ...tripsAtOnce,
      },
    },
    /** The isolation check asks for its own measuring steps; none of them can make anything live. */
    'checking-isolation': {
      ...withDeadline('checking-isolation'),
      on: {
        'isolation-dead': 'joining-train',
        stop: 'bleeding',
        'elapsed.checking-isolation': overdue,
        ...tripsAtOnce,
      },
    },
    'joining-train': {
      tags: ['live'],
      ...withDeadline('joining-train', 'isolation-off', 'close-train'),
      initial: 'closing-train',
      states: {
        'closing-train': { on: { 'train-closed': 'joining-rafts' } },
        'joining-rafts': {
          tags: ['may-join'],
          on: {
            'rafts-joined-all': { target: 'checking-joined', actions: { type: 'rafts-all' } },
            'rafts-joined-some': { target: 'checking-joined', actions: { type: 'rafts-some' } },
          },
        },
        'checking-joined': {
          on: {
            'isolation-joined': [
              { guard: 'pre-charges', target: '#session.pre-charging' },
              { target: '#session.matching-voltage' },
            ],
          },
        },
      },
      on: { stop: 'parting-train', 'elapsed.joining-train': overdue, ...tripsAtOnce },
    },
    'matching-voltage': {
      tags: ['live'],
      ...withDeadline('matching-voltage', 'enable-converter', 'match-voltage'),
      on: {
        'voltage-matched': 'closing',
        stop: 'opening',
        'elapsed.matching-voltage': overdue,
        ...tripsAtOnce,
      },
    },
    /** A converter that cannot match: the train charges the output capacitor through N and the resistor. */
    'pre-charging': {
      tags: ['live'],
      ...withDeadline('pre-charging', 'close-n', 'close-pre'),
      on: { 'pre-charged': 'closing', stop: 'opening', 'elapsed.pre-charging': overdue, ...tripsAtOnce },
    },
    closing: {
      tags: ['live'],
      ...withDeadline('closing'),
      initial: 'pole-p',
      states: {
        'pole-p': { entry: command('close-p'), on: { 'closed-p': 'pole-n' } },
        'pole-n': { entry: command('close-n'), on: { 'closed-n': 'probing' } },
        /** The converter pulls slightly above the train: only two closed poles hold the output down. */
        probing: {
          entry: [command('open-pre'), command('enable-converter'), command('probe-poles')],
          on: { 'poles-follow': '#session.ramping' },
        },
      },
      on: { stop: 'opening', 'elapsed.closing': overdue, ...tripsAtOnce },
    },
    ramping: {
      tags: ['live', 'current', 'governed'],
      ...withDeadline('ramping'),
      initial: 'to-hold-point',
      states: {
        'to-hold-point': {
          entry: command('authorise-hold-point'),
          on: { 'at-hold-point': 'at-hold-point' },
        },
        'at-hold-point': { on: { 'hold-point-passed': 'onward' } },
        onward: {
          entry: command('authorise-full'),
          on: { 'at-limit': '#session.holding', tapering: '#session.tapering' },
        },
      },
      on: { end: RAMP_DOWN, stop: RAMP_DOWN, 'elapsed.ramping': overdue, ...tripsUnderCurrent },
    },
    holding: {
      tags: ['live', 'current', 'governed', 'may-join'],
      on: {
        tapering: 'tapering',
        'rafts-joined-all': { actions: { type: 'rafts-all' } },
        end: RAMP_DOWN,
        stop: RAMP_DOWN,
        ...tripsUnderCurrent,
      },
    },
    tapering: {
      tags: ['live', 'current', 'governed', 'may-join'],
      on: {
        'rafts-joined-all': { actions: { type: 'rafts-all' } },
        end: RAMP_DOWN,
        stop: RAMP_DOWN,
        ...tripsUnderCurrent,
      },
    },
    /** Controlled, stop category 1. */
    'ramping-down': {
      tags: ['live', 'current', 'governed'],
      ...withDeadline('ramping-down', 'ramp-down'),
      on: {
        'current-zero': 'opening',
        'elapsed.ramping-down': overdue,
        'trip-0': tripTo('trip-0', TRIPPED),
        // Already ramping down: a trip-1 latches and goes on the same way, under its own deadline.
        'trip-1': tripTo('trip-1', '#session.tripped-ramping-down'),
      },
    },
    opening: {
      tags: ['live'],
      ...withDeadline('opening', 'disable-converter', 'open-pre', 'open-p'),
      initial: 'pole-p-moving',
      states: {
        /** The bleeder waits until P has had time to open: it must never bleed a pack. */
        'pole-p-moving': {
          entry: start('pole-settling'),
          exit: cancel('pole-settling'),
          on: { 'elapsed.pole-settling': 'proving-p' },
        },
        'proving-p': { entry: command('bleed-output'), on: { 'open-p': 'proving-n' } },
        'proving-n': {
          entry: [command('open-n'), command('part-poles')],
          on: { 'open-n': 'draining-output' },
        },
        'draining-output': { on: { 'output-dead': '#session.parting-train' } },
      },
      on: { 'elapsed.opening': overdue, ...tripsAtOnce },
    },
    'parting-train': {
      tags: ['live'],
      ...withDeadline('parting-train', 'isolation-off', 'open-train'),
      on: { 'train-open': 'bleeding', 'elapsed.parting-train': overdue, ...tripsAtOnce },
    },
    bleeding: {
      tags: ['live'],
      ...withDeadline('bleeding', 'isolation-off', 'bleed-output', 'bleed-plug'),
      on: { 'proven-dead': 'released', 'elapsed.bleeding': overdue, ...tripsAtOnce },
    },
    released: {
      tags: ['ended'],
      entry: [command('end-bleeding'), command('pilot-off'), command('unlock')],
    },
    /** Trip-1: the current comes down under a deadline; whatever happens then, it is made safe. */
    'tripped-ramping-down': {
      tags: ['live', 'current', 'governed', 'tripped'],
      entry: [command('set-latch'), command('ramp-down'), start('tripped-ramping-down')],
      exit: [cancel('tripped-ramping-down')],
      on: {
        'current-zero': 'making-safe',
        'elapsed.tripped-ramping-down': 'making-safe',
        'trip-0': tripTo('trip-0', TRIPPED),
      },
    },
    'making-safe': {
      tags: ['live', 'tripped'],
      ...withDeadline('making-safe', 'make-safe', 'set-latch'),
      on: { 'proven-dead': 'safe', 'elapsed.making-safe': 'not-proven-dead' },
    },
    safe: {
      tags: ['tripped', 'ended'],
      on: { acknowledge: { target: 'parked', actions: [{ type: 'acknowledged' }, command('clear-latch')] } },
    },
    /** Keep away. Only a proof leads on, never an order. */
    'not-proven-dead': { tags: ['live', 'tripped', 'ended'], on: { 'proven-dead': 'safe' } },
  },
});

export type SessionMachine = typeof sessionMachine;
