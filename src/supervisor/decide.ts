/** The machine as the supervisor uses it: one event in, state and emissions out. Holds no clock and no I/O. */
import { createHash } from 'node:crypto';
import { initialTransition, type SnapshotFrom, transition } from 'xstate';
import { type SessionMachine, sessionMachine } from '../../machines/session.js';
import type { Command, Emission, SessionEvent, SessionFlags, TimerId } from '../../machines/vocabulary.js';
import { PHASES, type Phase } from '../rig/roles.js';

export type MachineSnapshot = SnapshotFrom<SessionMachine>;

export interface Decision {
  readonly snapshot: MachineSnapshot;
  readonly emissions: readonly Emission[];
}

interface RawAction {
  readonly type: string;
  readonly params?: unknown;
}

function emissionsOf(actions: readonly RawAction[]): Emission[] {
  const emissions: Emission[] = [];
  for (const action of actions) {
    if (action.type === 'command') {
      emissions.push({ kind: 'command', command: (action.params as { command: Command }).command });
    } else if (action.type === 'start-timer' || action.type === 'cancel-timer') {
      emissions.push({ kind: action.type, timer: (action.params as { timer: TimerId }).timer });
    }
  }
  return emissions;
}

/** @param machine another one only where copies of the machine are explored */
export function begin(input: Pick<SessionFlags, 'path' | 'latched'>, machine = sessionMachine): Decision {
  const [snapshot, actions] = initialTransition(machine, input);
  return { snapshot, emissions: emissionsOf(actions as readonly RawAction[]) };
}

/** Answers of `changes`, which depend on nothing but their arguments; asked some ten times a step. */
const known = new WeakMap<MachineSnapshot, Map<SessionEvent['type'], boolean>>();

/** True when the event would do anything: a permitted event that leads nowhere new is not worth giving. */
export function changes(snapshot: MachineSnapshot, event: SessionEvent): boolean {
  let answers = known.get(snapshot);
  if (answers === undefined) {
    answers = new Map<SessionEvent['type'], boolean>();
    known.set(snapshot, answers);
  }
  const before = answers.get(event.type);
  if (before !== undefined) return before;
  const answer = wouldChange(snapshot, event);
  answers.set(event.type, answer);
  return answer;
}

function wouldChange(snapshot: MachineSnapshot, event: SessionEvent): boolean {
  if (!snapshot.can(event)) return false;
  const next = decide(snapshot, event);
  const same = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);
  return (
    next.emissions.length > 0 ||
    !same(next.snapshot.value, snapshot.value) ||
    !same(next.snapshot.context, snapshot.context)
  );
}

export function decide(snapshot: MachineSnapshot, event: SessionEvent, machine = sessionMachine): Decision {
  const [next, actions] = transition(machine, snapshot, event);
  return { snapshot: next, emissions: emissionsOf(actions as readonly RawAction[]) };
}

/** The phase is the top level of the state value. */
export function phaseOf(snapshot: MachineSnapshot): Phase {
  const top = typeof snapshot.value === 'string' ? snapshot.value : Object.keys(snapshot.value)[0];
  const phase = PHASES.find((p) => p === top);
  if (phase === undefined) throw new Error(`machine state ${String(top)} is not a phase`);
  return phase;
}

/** The step inside the phase, or '' where a phase has none. */
export function stepOf(snapshot: MachineSnapshot): string {
  return typeof snapshot.value === 'string' ? '' : String(Object.values(snapshot.value)[0]);
}

/**
 * Fingerprint of the machine's whole definition: states, transitions, guards, actions by name. A journal
 * carries it, so that a replay knows whether it runs the machine that decided.
 */
export function machineHash(): string {
  return createHash('sha256').update(JSON.stringify(sessionMachine.definition)).digest('hex');
}
