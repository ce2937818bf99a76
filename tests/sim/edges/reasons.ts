/** Edges of the machine that no device and no person can bring about through the supervisor, each with its reason. */
import type { MachineEdge } from '../../model/test-model.js';

export interface Reason {
  readonly matches: (edge: MachineEdge) => boolean;
  readonly why: string;
}

export const REASONS: readonly Reason[] = [
  {
    matches: ({ from, event }) => from.value === 'safe' && event === 'acknowledge',
    why:
      'the session has its outcome with the step that reaches safe, and an acknowledgement is taken only in parked: ' +
      'it is given to a session of its own',
  },
  {
    matches: ({ from, event }) => from.value === 'parked' && event === 'acknowledge',
    why:
      'the machine begins latched only where a start was asked first; the latch then refuses that start, which ends ' +
      'the session, and until then the desk takes no second order. A session begun to acknowledge has the latches ' +
      'of file and device cleared without the machine',
  },
];

export const reasonOf = (edge: MachineEdge): string | null =>
  REASONS.find((r) => r.matches(edge))?.why ?? null;
