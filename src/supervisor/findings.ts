/** Which findings stand: reports on change, and picks what acts first. */
import { CATALOGUE, type Code, type Effect } from '../checks/catalogue.js';
import type { Finding } from '../checks/check.js';
import type { Observing } from './observing.js';

const keyOf = (f: Finding): string => (f.part === undefined ? f.code : `${f.code}/${f.part}`);

/** Severity of effects that act on a session under way; the rest only tell. */
const WEIGHT: Record<Effect, number> = { 'trip-0': 3, 'trip-1': 2, stop: 1, derate: 0, note: 0, refuse: 0 };

export class Findings {
  readonly #failing = new Map<string, Finding>();
  /** First out-of-limit sample of any code that only observes; one time for all of them, and it runs on. */
  #observedMs = Number.NaN;

  /** @param observing codes that act only after a time; see observing.ts */
  constructor(private readonly observing: Observing | null = null) {}

  /** Takes the statements of one step; returns those that changed. A code not evaluated now is not standing. */
  take(findings: readonly Finding[]): { readonly begun: Finding[]; readonly ended: Finding[] } {
    const begun: Finding[] = [];
    const ended: Finding[] = [];
    const now = new Set<string>();
    for (const f of findings) {
      if (!f.failing) continue;
      if (Number.isNaN(this.#observedMs) && this.observing?.codes.includes(f.code) === true)
        this.#observedMs = f.sinceMs;
      const key = keyOf(f);
      now.add(key);
      if (!this.#failing.has(key)) begun.push(f);
      this.#failing.set(key, f);
    }
    for (const [key, f] of this.#failing) {
      if (now.has(key)) continue;
      this.#failing.delete(key);
      ended.push(f);
    }
    return { begun, ended };
  }

  get standing(): readonly Finding[] {
    return [...this.#failing.values()];
  }

  has(...codes: readonly Code[]): boolean {
    for (const f of this.#failing.values()) if (codes.includes(f.code)) return true;
    return false;
  }

  #isObserved({ code }: Finding, nowMs: number): boolean {
    const { observing } = this;
    // Positively, so that a time that cannot be told ends the looking on.
    return observing?.codes.includes(code) === true && nowMs - this.#observedMs < observing.forMs;
  }

  /**
   * The finding that acts now: the most severe; among equals the one whose first out-of-limit sample is the
   * oldest; then the order of the checks.
   */
  acting(nowMs: number): Finding | null {
    let best: Finding | null = null;
    for (const f of this.#failing.values()) {
      const weight = WEIGHT[CATALOGUE[f.code].effect];
      if (weight === 0 || this.#isObserved(f, nowMs)) continue;
      if (best === null) best = f;
      else {
        const bestWeight = WEIGHT[CATALOGUE[best.code].effect];
        if (weight > bestWeight || (weight === bestWeight && f.sinceMs < best.sinceMs)) best = f;
      }
    }
    return best;
  }
}
