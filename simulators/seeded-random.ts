/**
 * Reproducible random numbers for simulation: xoshiro128** seeded through splitmix32, and what the physics
 * draws from it. A live session never uses this; its nonce comes from the operating system.
 */
import type { RandomSource } from '../src/host/random.js';

export class SeededRandom implements RandomSource {
  #a: number;
  #b: number;
  #c: number;
  #d: number;
  #spare = Number.NaN;

  constructor(seed: number) {
    let s = seed >>> 0;
    const next = () => {
      s = (s + 0x9e3779b9) >>> 0;
      let z = s;
      z = Math.imul(z ^ (z >>> 16), 0x85ebca6b);
      z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35);
      return (z ^ (z >>> 16)) >>> 0;
    };
    this.#a = next();
    this.#b = next();
    this.#c = next();
    this.#d = next() | 1; // the all-zero state would stay zero for ever
  }

  uint32(): number {
    const m = Math.imul(this.#b, 5);
    const result = Math.imul((m << 7) | (m >>> 25), 9) >>> 0;
    const t = this.#b << 9;
    this.#c ^= this.#a;
    this.#d ^= this.#b;
    this.#b ^= this.#c;
    this.#a ^= this.#d;
    this.#c ^= t;
    this.#d = (this.#d << 11) | (this.#d >>> 21);
    return result;
  }

  /** Uniform in [0, 1). */
  unit(): number {
    return this.uint32() * 2 ** -32;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.unit();
  }

  /** Normal with mean 0 and deviation 1 (polar method). */
  gaussian(): number {
    if (!Number.isNaN(this.#spare)) {
      const spare = this.#spare;
      this.#spare = Number.NaN;
      return spare;
    }
    // About 21 % of draws are rejected; 64 tries bound the loop and are never reached.
    for (let i = 0; i < 64; i++) {
      const x = 2 * this.unit() - 1;
      const y = 2 * this.unit() - 1;
      const r = x * x + y * y;
      if (r > 0 && r < 1) {
        const f = Math.sqrt((-2 * Math.log(r)) / r);
        this.#spare = y * f;
        return x * f;
      }
    }
    return 0;
  }

  /** An independent stream for one part, so that adding draws in one part does not shift another's. */
  fork(label: string): SeededRandom {
    let h = 0x811c9dc5;
    for (let i = 0; i < label.length; i++) h = Math.imul(h ^ label.charCodeAt(i), 0x01000193);
    return new SeededRandom((this.uint32() ^ h) >>> 0);
  }
}
