/**
 * A session machine laid open for exploration: its beginnings, and what each event does in each of its states,
 * permitted or not. Steps are taken by the supervisor's own `decide`; answers are kept, so that each is asked once.
 */
import type { MachineStep, Standing } from '../../../machines/invariants.js';
import { type SessionMachine, sessionMachine } from '../../../machines/session.js';
import { EVENT_TYPES, type SessionEvent, type TimerId } from '../../../machines/vocabulary.js';
import { begin, type Decision, decide, type MachineSnapshot } from '../../supervisor/decide.js';

export type EventType = SessionEvent['type'];

/** State value and flags: the whole of what the machine knows. */
export const keyOf = (s: MachineSnapshot): string => JSON.stringify([s.value, s.context]);

/** The path of the state stood in, e.g. `closing.pole-p`. */
export const stateOf = (s: MachineSnapshot): string =>
  typeof s.value === 'string' ? s.value : Object.entries(s.value).flat().join('.');

export const standingOf = (s: MachineSnapshot): Standing => ({ state: stateOf(s), flags: s.context });

/** What one event does in one state. */
export interface Move {
  readonly key: string;
  readonly snapshot: MachineSnapshot;
  readonly step: MachineStep;
  readonly started: readonly TimerId[];
  readonly cancelled: readonly TimerId[];
  /** The transitions of the definition that were taken. */
  readonly transitions: readonly unknown[];
}

/** Every way a session can begin: both paths to the train's voltage, with and without a latch. */
const BEGINNINGS = (['match', 'pre-charge'] as const).flatMap((path) =>
  [false, true].map((latched) => ({ path, latched })),
);

export class Subject {
  readonly #moves = new Map<string, Move>();

  constructor(readonly machine: SessionMachine = sessionMachine) {}

  beginnings(): MachineSnapshot[] {
    return BEGINNINGS.map((input) => begin(input, this.machine).snapshot);
  }

  move(from: MachineSnapshot, key: string, event: EventType): Move {
    const id = `${event} ${key}`;
    const known = this.#moves.get(id);
    if (known !== undefined) return known;
    const move = this.#try(from, key, event);
    this.#moves.set(id, move);
    return move;
  }

  #try(from: MachineSnapshot, key: string, event: EventType): Move {
    const taken = from.can({ type: event });
    const decision: Decision = taken
      ? decide(from, { type: event }, this.machine)
      : { snapshot: from, emissions: [] };
    const { snapshot, emissions } = decision;
    const timers = (kind: 'start-timer' | 'cancel-timer'): TimerId[] =>
      emissions.flatMap((e) => (e.kind === kind ? [e.timer] : []));
    return {
      key: taken ? keyOf(snapshot) : key,
      snapshot,
      step: {
        before: standingOf(from),
        event,
        taken,
        reached: standingOf(snapshot),
        commands: emissions.flatMap((e) => (e.kind === 'command' ? [e.command] : [])),
      },
      started: timers('start-timer'),
      cancelled: timers('cancel-timer'),
      transitions: taken ? this.machine.getTransitionData(from, { type: event }) : [],
    };
  }
}

export const EVENTS: readonly EventType[] = EVENT_TYPES;
