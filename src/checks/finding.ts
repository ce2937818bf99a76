/** Short hands for stating findings; the fields themselves are explained in check.ts. */
import type { Code } from './catalogue.js';
import type { Finding } from './check.js';
import { ripe, since, type Watch } from './watch.js';

/** What a verdict is held against: the figure, its unit and the config key it comes from. */
export interface Against {
  readonly limit: number;
  readonly unit: string;
  readonly setting: string;
}

export function state(
  code: Code,
  failing: boolean,
  reading: number,
  against: Against,
  sinceMs: number,
  part?: string,
): Finding {
  const { limit, unit, setting } = against;
  // Written out: this runs some fifty times a step, and spreading costs ten times as much.
  return part === undefined
    ? { code, failing, reading, limit, unit, setting, sinceMs }
    : { code, failing, reading, limit, unit, setting, sinceMs, part };
}

/** A finding whose verdict rests on a debounced row of samples. */
export function stateWatch(
  code: Code,
  w: Watch,
  samples: number,
  forMs: number,
  reading: number,
  against: Against,
  nowMs: number,
  part?: string,
): Finding {
  const failing = ripe(w, samples, forMs);
  return state(code, failing, reading, against, failing ? since(w, nowMs) : nowMs, part);
}

/** A flag that must read 1 (or 0): limit and unit say so. */
export const flag = (limit: 0 | 1, setting: string): Against => ({ limit, unit: '', setting });
