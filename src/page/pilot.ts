/** The newest burst of pilot samples, laid together from the frames it came in. */
import type { Wave } from '../link/frames.js';

/** Parts of a burst are numbered from 1; more than a device may send. */
const MOST_PARTS = 64;

export class Pilot {
  #parts: (readonly number[])[] = [];
  #re = -1;
  #of = 0;
  /** Counts whole bursts. */
  count = 0;
  atMs: number | null = null;
  spacingNs: number | null = null;
  samplesA: readonly number[] = [];

  take({ re, part, parts, spacingNs, samplesA }: Wave, atMs: number): void {
    if (!(Number.isInteger(part) && parts >= 1 && parts <= MOST_PARTS && part >= 1 && part <= parts)) return;
    if (re !== this.#re || parts !== this.#of) {
      this.#re = re;
      this.#of = parts;
      this.#parts = [];
    }
    this.#parts[part - 1] = samplesA;
    for (let i = 0; i < parts; i++) if (this.#parts[i] === undefined) return;
    this.samplesA = this.#parts.flat();
    this.spacingNs = spacingNs;
    this.atMs = atMs;
    this.count++;
    this.#re = -1;
  }
}
