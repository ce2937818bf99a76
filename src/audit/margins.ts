/**
 * How near each limit came, and when: from what the checks themselves said in every step of a replay. A margin is
 * the distance of the reading from its limit as a share of the limit; once exceeded it is negative. Looked at from
 * `securing` until the current is down or something trips: after that everything is meant to pass its limit on the
 * way to dead, and the proofs tell it.
 */
import type { CheckResult, Finding, Observation, Proof } from '../checks/check.js';
import { between } from '../checks/phases.js';
import type { Phase } from '../rig/roles.js';

export interface Margin {
  readonly code: string;
  readonly part: string | null;
  readonly unit: string;
  readonly setting: string;
  /** Reading and limit at the nearest moment. */
  readonly reading: number;
  readonly limit: number;
  /** Share of the limit that was left; negative when it was exceeded. */
  readonly left: number;
  readonly atMs: number;
  readonly phase: Phase;
}

export interface ProofMade {
  readonly proof: Proof;
  readonly atMs: number;
  readonly phase: Phase;
  /** What the check that owns it read at that moment. */
  readonly figures: readonly Pick<Finding, 'code' | 'part' | 'reading' | 'limit' | 'unit' | 'setting'>[];
}

/** A session that flickers for a day makes no more than this. */
const MOST_PROOFS = 500;
const NONE: readonly Proof[] = [];

export class Margins {
  readonly #nearest = new Map<string, Margin>();
  /** Proofs each check last said to stand. */
  readonly #standing = new Map<string, readonly Proof[]>();
  readonly proofs: ProofMade[] = [];

  /** @param nearer sees each margin as it becomes the nearest so far */
  constructor(private readonly nearer: ((margin: Margin) => void) | null = null) {}

  take(check: string, said: CheckResult<unknown>, seen: Observation): void {
    if (seen.trippedIn === null && between(seen.phase, 'securing', 'ramping-down'))
      for (const finding of said.findings) this.#measure(finding, seen);
    const before = this.#standing.get(check) ?? NONE;
    const now = said.proofs ?? NONE;
    if (now.length === 0 && before.length === 0) return;
    for (const proof of now) if (!before.includes(proof)) this.#prove(proof, said.findings, seen);
    this.#standing.set(check, now);
  }

  /** The nearest first. */
  get list(): Margin[] {
    return [...this.#nearest.values()].sort((a, b) => a.left - b.left);
  }

  #measure({ code, part, failing, reading, limit, unit, setting }: Finding, seen: Observation): void {
    // Flags have no distance, and what cannot be read has none either.
    if (unit === '' || !Number.isFinite(reading) || !Number.isFinite(limit) || limit === 0) return;
    const distance = Math.abs((limit - reading) / limit);
    const left = failing ? -distance : distance;
    const key = part === undefined ? code : `${code} ${part}`;
    const nearest = this.#nearest.get(key);
    if (nearest !== undefined && nearest.left <= left) return;
    const { nowMs: atMs, phase } = seen;
    const margin = { code, part: part ?? null, unit, setting, reading, limit, left, atMs, phase };
    this.#nearest.set(key, margin);
    this.nearer?.(margin);
  }

  #prove(proof: Proof, findings: readonly Finding[], { nowMs: atMs, phase }: Observation): void {
    if (this.proofs.length >= MOST_PROOFS) return;
    const figures = findings
      .filter(({ unit, reading }) => unit !== '' && Number.isFinite(reading))
      .map(({ code, part, reading, limit, unit, setting }) => ({
        code,
        ...(part === undefined ? {} : { part }),
        reading,
        limit,
        unit,
        setting,
      }));
    this.proofs.push({ proof, atMs, phase, figures });
  }
}
