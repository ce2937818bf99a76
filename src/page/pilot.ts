/** The newest burst of pilot samples, laid together from the frames it came in. */
import type { z } from 'zod';
import type { Wave } from '../link/frames.js';
import type { pilot } from './api.js';

type PilotShown = z.infer<typeof pilot>;

/** Parts of a burst are numbered from 1; more than a device may send. */
const MOST_PARTS = 64;

export class Pilot {
  #parts: (readonly number[])[] = [];
  #re = -1;
  #of = 0;
  /** Counts whole bursts. */
  count = 0;
  /** Replaced as a whole, so that whoever writes it down for many pages does so once. */
  newest: PilotShown = { atMs: null, spacingNs: null, samplesA: [] };

  get atMs(): number | null {
    return this.newest.atMs;
  }
  get spacingNs(): number | null {
    return this.newest.spacingNs;
  }
  get samplesA(): readonly number[] {
    return this.newest.samplesA;
  }

  take({ re, part, parts, spacingNs, samplesA }: Wave, atMs: number): void {
    if (!(Number.isInteger(part) && parts >= 1 && parts <= MOST_PARTS && part >= 1 && part <= parts)) return;
    if (re !== this.#re || parts !== this.#of) {
      this.#re = re;
      this.#of = parts;
      this.#parts = [];
    }
    this.#parts[part - 1] = samplesA;
    for (let i = 0; i < parts; i++) if (this.#parts[i] === undefined) return;
    this.newest = { atMs, spacingNs, samplesA: this.#parts.flat() };
    this.count++;
    this.#re = -1;
  }
}
