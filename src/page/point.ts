/** One point of the traces, from what the session saw last. */
import { underCurrent } from '../checks/phases.js';
import { orNull } from '../supervisor/outcome.js';
import type { Session } from '../supervisor/session.js';
import type { Point } from './traces.js';

/** To what a screen can show; it keeps the stream small. */
const rounded = (x: number | undefined, digits: number): number | null => {
  const figure = orNull(x);
  return figure === null ? null : Number(figure.toFixed(digits));
};

/** @returns null while nothing has been read */
export function pointOf(
  session: Session | null,
  atMs: number,
  bindingOf: (limit: string) => number,
): Point | null {
  if (session === null) return null;
  const { seen, setpointA, leastA, binding } = session.display;
  if (seen === null) return null;
  const meter = seen.meter?.value;
  const rafts = seen.rafts.flatMap((r) => (r === null ? [] : [r.value]));
  const socs = rafts.map((r) => r.soc).filter(Number.isFinite);
  const warm = rafts.map((r) => r.cellMaxC).filter(Number.isFinite);
  const governed = underCurrent(session.phase) && leastA > 0;
  return [
    Math.round(atMs),
    rounded(meter?.outputV, 1),
    rounded(meter?.plugV, 1),
    rounded(seen.train?.value.trainV, 1),
    rounded(meter?.currentA, 2),
    rounded(setpointA, 2),
    governed ? rounded(leastA, 1) : null,
    governed ? bindingOf(binding) : null,
    rounded(meter?.cableC, 1),
    rounded(meter?.contactC, 1),
    warm.length > 0 ? rounded(Math.max(...warm), 1) : null,
    socs.length > 0 ? rounded(socs.reduce((a, b) => a + b, 0) / socs.length, 4) : null,
  ];
}
