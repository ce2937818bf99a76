/**
 * Copies of the session machine, each with one deliberate mistake: the test of the tests. Each must be caught by
 * the invariant it is meant for. Plain JavaScript, so that tests and the exploration of the built code share it.
 */
import { assign, createMachine } from 'xstate';

/** Copies plain data; functions stay what they are. */
function copy(value) {
  if (Array.isArray(value)) return value.map(copy);
  if (value === null || typeof value !== 'object') return value;
  return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, copy(v)]));
}

const without = (entry, command) => entry.filter((a) => a.params?.command !== command);

/** `also`: further invariants that the same mistake must break. */
const BROKEN = [
  {
    name: 'isolation is skipped',
    breaks: 'I1',
    edit: ({ states }) => {
      states['proving-presence'].on.presence = 'joining-train';
    },
  },
  {
    name: 'the poles close without a match',
    breaks: 'I1',
    edit: ({ states }) => {
      states['joining-train'].states['checking-joined'].on['isolation-joined'] = '#session.closing';
    },
  },
  {
    name: 'current is authorised on pole P alone',
    breaks: 'I2',
    edit: ({ states }) => {
      states.closing.states['pole-p'].on['closed-p'] = '#session.ramping';
    },
  },
  {
    name: 'the poles are not probed by volts',
    breaks: 'I2',
    edit: ({ states }) => {
      states.closing.states['pole-n'].on['closed-n'] = '#session.ramping';
    },
  },
  {
    name: 'a trip-0 while holding only ramps down',
    breaks: 'I4',
    // It takes a step more to the end, too.
    also: ['I10'],
    edit: ({ states }) => {
      states.holding.on['trip-0'] = { target: 'tripped-ramping-down', actions: { type: 'latch-trip-0' } };
    },
  },
  {
    name: 'a trip-1 while tapering is not heard',
    breaks: 'I4',
    edit: ({ states }) => {
      delete states.tapering.on['trip-1'];
    },
  },
  {
    name: 'a stop while securing frees the plug at once',
    breaks: 'I5',
    edit: ({ states }) => {
      states.securing.on.stop = 'released';
    },
  },
  {
    name: 'the plug is freed without waiting for the bleeders',
    breaks: 'I5',
    edit: ({ states }) => {
      states['parting-train'].on['train-open'] = 'released';
    },
  },
  {
    name: 'a latch does not keep the machine from starting',
    breaks: 'I6',
    implementations: { guards: { unlatched: () => true } },
  },
  {
    name: 'a trip is not latched',
    breaks: 'I6',
    implementations: { actions: { 'latch-trip-0': assign({ trip: 'trip-0' }) } },
  },
  {
    name: 'a session made safe goes on when all is well again',
    breaks: 'I6',
    // It comes to authority and to freeing the plug with the trip still standing.
    also: ['I2', 'I5'],
    edit: ({ states }) => {
      states.safe.on.secured = 'proving-presence';
    },
  },
  {
    name: 'make-safe waits for its proof for ever',
    breaks: 'I10',
    edit: ({ states }) => {
      states['making-safe'].entry = states['making-safe'].entry.filter((a) => a.type !== 'start-timer');
    },
  },
  {
    name: 'parting goes back to opening',
    breaks: 'I10',
    edit: ({ states }) => {
      states['parting-train'].on['train-open'] = 'opening';
    },
  },
  {
    name: 'a stop while holding is not heard',
    breaks: 'I10',
    edit: ({ states }) => {
      delete states.holding.on.stop;
    },
  },
  {
    name: 'the plug is never locked',
    breaks: 'I12',
    edit: ({ states }) => {
      states.securing.entry = without(states.securing.entry, 'lock');
    },
  },
  {
    name: 'a loss while the poles close is not heard',
    breaks: 'I12',
    // Nothing then ends it either: it goes on to hold.
    also: ['I4', 'I10'],
    edit: ({ states }) => {
      delete states.closing.on['trip-0'];
    },
  },
];

/** @param machine the session machine; every copy is made from it afresh */
export function brokenMachines(machine) {
  return BROKEN.map(({ name, breaks, also = [], edit = () => {}, implementations = {} }) => {
    const config = copy(machine.config);
    edit(config);
    const { actions, guards } = machine.implementations;
    return {
      name,
      breaks,
      also,
      machine: createMachine(config, {
        actions: { ...actions, ...implementations.actions },
        guards: { ...guards, ...implementations.guards },
      }),
    };
  });
}
