/**
 * Debounce as data: how many samples in a row were out of limit, and since when.
 *
 * Only new samples count. A tick that repeats an old sample proves nothing about the world, so a verdict can
 * never ripen by ticking alone; silence is the business of the freshness check.
 */
export interface Watch {
  /** Samples out of limit in a row. */
  readonly bad: number;
  /** Session ms of the first and of the newest of them. */
  readonly sinceMs: number;
  readonly lastMs: number;
}

export const CALM: Watch = { bad: 0, sinceMs: Number.NaN, lastMs: Number.NaN };

/** Takes one observation. `ok` is the condition, stated positively so that NaN is out of limit. */
export function watch(w: Watch, ok: boolean, isNew: boolean, nowMs: number): Watch {
  if (!isNew) return w;
  if (ok) return CALM;
  return w.bad === 0
    ? { bad: 1, sinceMs: nowMs, lastMs: nowMs }
    : { bad: w.bad + 1, sinceMs: w.sinceMs, lastMs: nowMs };
}

/** True once `samples` in a row, spanning at least `forMs`, were out of limit. */
export const ripe = (w: Watch, samples: number, forMs = 0): boolean =>
  w.bad >= samples && w.lastMs - w.sinceMs >= forMs;

/** First out-of-limit sample of a running row, or now when there is none. */
export const since = (w: Watch, nowMs: number): number => (w.bad > 0 ? w.sinceMs : nowMs);
