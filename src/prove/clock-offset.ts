/**
 * How far the supervisor's clock is ahead of a device's, as an interval that holds it certainly. A report cannot come
 * before it was sent: each is an upper bound, and the quickest the best. How much of that was the way of even the
 * quickest is bounded from above by what a line, an adapter and an operating system may take. Oscillators differ: a
 * bound taken at another time is wider by what they may drift apart until then.
 */
import type { decodeToSupervisor } from '../link/codec.js';
import { transitMs } from '../rig/frame-size.js';

export interface Interval {
  readonly loMs: number;
  readonly atMs: number;
  readonly hiMs: number;
}

/** One count of a device's clock. */
export const COUNT_MS = 1;
/** Deviation of one clock, from a crystal; common practice, no source. */
export const CLOCK_SHARE = 1e-4;
/** Even the quickest line may have waited this long besides its transit: adapters hold a last piece for up to 16 ms. */
export const DELIVERY_MS = 20;
/** In so long at least one report came as quickly as that. */
const QUICK_WITHIN_MS = 5000;
/** Two clocks, each off by its share in its own direction. */
const APART = 2 * CLOCK_SHARE;

/** A line that was taken in, by the number and time of its record. */
export interface Heard {
  readonly n: number;
  readonly tMs: number;
  readonly port: number;
  readonly bytes: number;
  readonly body: Extract<ReturnType<typeof decodeToSupervisor>, { ok: true }>['frame']['body'];
}

/** Supervisor's time minus device's time, at a moment on the supervisor's clock. */
export type Offset = (tMs: number) => Interval;

interface Bound {
  readonly tMs: number;
  atMost: number;
}

/** Lets every bound speak for the times around it, widened by the drift until there. */
function spreadOut(bounds: Bound[]): Bound[] {
  const pass = (order: readonly Bound[]): void => {
    let before: Bound | null = null;
    for (const b of order) {
      if (before !== null)
        b.atMost = Math.min(b.atMost, before.atMost + APART * Math.abs(b.tMs - before.tMs));
      before = b;
    }
  };
  pass(bounds);
  pass([...bounds].reverse());
  return bounds;
}

/** @returns NaN where none was heard */
function leastAt(bounds: readonly Bound[], tMs: number): number {
  let lo = 0;
  let hi = bounds.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if ((bounds[mid] as Bound).tMs <= tMs) lo = mid + 1;
    else hi = mid;
  }
  const near = [bounds[lo - 1], bounds[lo]].filter((b) => b !== undefined);
  return near.length === 0
    ? Number.NaN
    : Math.min(...near.map((b) => b.atMost + APART * Math.abs(b.tMs - tMs)));
}

/** @param heard of one port, oldest first */
export function offsetOf(heard: readonly Heard[], baud: number): Offset {
  const sent: Bound[] = [];
  const wired: Bound[] = [];
  for (const { tMs, bytes, body } of heard) {
    if (body.verb !== 'report') continue;
    const atMost = tMs - body.roles.device.clockMs;
    sent.push({ tMs, atMost });
    wired.push({ tMs, atMost: atMost - transitMs(bytes, baud) });
  }
  spreadOut(sent);
  spreadOut(wired);
  return (tMs) => {
    const atMs = leastAt(wired, tMs);
    return {
      loMs: atMs - DELIVERY_MS - COUNT_MS - APART * QUICK_WITHIN_MS,
      atMs,
      // A line may be quicker than its baud rate says (a pseudo-terminal, a USB device): only zero is certain.
      hiMs: leastAt(sent, tMs),
    };
  };
}
