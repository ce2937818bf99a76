/** One point of the traces, from what the session saw last. What could not be read, or is too old, is a gap. */
import { underCurrent } from '../checks/phases.js';
import type { AssignableRole } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { orNull } from '../supervisor/outcome.js';
import type { Session } from '../supervisor/session.js';
import { isStale } from './fresh.js';
import type { Point } from './traces.js';

/** To what a screen can show; it keeps the stream small. */
const rounded = (x: number | undefined, digits: number): number | null => {
  const figure = orNull(x);
  return figure === null ? null : Number(figure.toFixed(digits));
};

/**
 * @param session of which `sessionMs` have passed
 * @returns null while nothing has been read
 */
export function pointOf(
  session: Pick<Session, 'display' | 'phase'> | null,
  sessionMs: number,
  atMs: number,
  rig: Rig,
  bindingOf: (limit: string) => number,
): Point | null {
  const seen = session?.display.seen ?? null;
  if (session === null || seen === null) return null;
  const { setpointA, leastA, binding } = session.display;
  const sinceMs = Math.max(0, sessionMs - seen.nowMs);
  const read = <T>(role: AssignableRole, one: { readonly value: T; readonly ageMs: number } | null) =>
    one === null || isStale(role, one, sinceMs, rig) ? undefined : one.value;
  const meter = read('meter', seen.meter);
  const rafts = seen.rafts.flatMap((raft) => read('raft', raft) ?? []);
  const socs = rafts.map((r) => r.soc).filter(Number.isFinite);
  const warm = rafts.map((r) => r.cellMaxC).filter(Number.isFinite);
  const governed = underCurrent(session.phase) && leastA > 0;
  return [
    Math.round(atMs),
    rounded(meter?.outputV, 1),
    rounded(meter?.plugV, 1),
    rounded(read('train', seen.train)?.trainV, 1),
    rounded(meter?.currentA, 2),
    rounded(setpointA, 2),
    governed ? rounded(leastA, 1) : null,
    governed ? bindingOf(binding) : null,
    rounded(meter?.cableC, 1),
    rounded(meter?.contactC, 1),
    warm.length > 0 ? rounded(Math.max(...warm), 1) : null,
    // As the large figure on the page: the raft that has least.
    socs.length > 0 ? rounded(Math.min(...socs), 4) : null,
  ];
}
