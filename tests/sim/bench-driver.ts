/** A live bench driven by a real clock that is none: as fast as the computer runs, and the same every time. */
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { NO_WISH, type Wish } from '../../src/checks/check.js';
import { type BenchWatcher, LiveBench, type LiveBenchOptions } from '../../src/rehearsal/live-bench.js';
import { loadRig } from '../../src/rig/load.js';
import type { Phase } from '../../src/rig/roles.js';
import type { Outcome, Refusal, TripRecord } from '../../src/supervisor/outcome.js';
import type { PersonOrder, Progress } from '../../src/supervisor/session-types.js';
import type { Opening } from '../../src/supervisor/stand.js';

/** One pump of the bench. */
const PUMP_MS = 15;
/** Turns of promises between two pumps: as many as a session needs to close. */
const TURNS = 12;

export class Driver {
  readonly real = new VirtualClock();
  readonly bench: LiveBench;
  readonly phases: Phase[] = [];
  readonly trips: TripRecord[] = [];
  readonly refusals: Refusal[] = [];
  readonly ends: { readonly outcome: Outcome; readonly exit: number }[] = [];
  readonly failures: string[] = [];
  by = 'N. Aalto';

  constructor(state: string, rig: string, more: Partial<LiveBenchOptions> = {}) {
    this.bench = new LiveBench({ loaded: loadRig(rig), real: this.real, state, seed: 5, ...more });
    this.bench.speed = 60;
    this.bench.listen({
      begun: () => this.phases.push('parked'),
      progress: (what) => this.#take(what),
      ended: (outcome, exit) => this.ends.push({ outcome, exit }),
      failed: (error) => this.failures.push(error.message),
    });
  }

  #take(what: Progress): void {
    if (what.kind === 'phase') this.phases.push(what.phase);
    else if (what.kind === 'trip') this.trips.push(what.trip);
    else if (what.kind === 'refusal') this.refusals.push(what.refusal);
  }

  watch(more: Partial<BenchWatcher>): void {
    const none = () => {};
    this.bench.watch({
      begun: none,
      progress: none,
      ended: none,
      failed: none,
      ordered: none,
      closed: none,
      ...more,
    });
  }

  async pump(): Promise<void> {
    this.real.runUntil(this.real.nowMs() + PUMP_MS);
    for (let i = 0; i < TURNS; i++) await null;
  }

  /** @throws when it does not come within this bench time */
  async until(what: () => boolean, withinS = 120): Promise<void> {
    const untilMs = this.bench.clock.nowMs() + withinS * 1000;
    while (!what()) {
      if (this.bench.clock.nowMs() > untilMs)
        throw new Error(`not within ${withinS} s; phases so far: ${this.phases.join(', ')}`);
      await this.pump();
    }
  }

  async wait(s: number): Promise<void> {
    const untilMs = this.bench.clock.nowMs() + s * 1000;
    await this.until(() => this.bench.clock.nowMs() >= untilMs, s + 10);
  }

  async begin(order: Opening, wish: Partial<Wish> = {}, measuredDead = false): Promise<void> {
    await this.bench.begin({ order, by: this.by, wish: { ...NO_WISH, ...wish }, measuredDead });
  }

  /** The phase as it is now. */
  async phase(phase: Phase, withinS = 120): Promise<void> {
    await this.until(() => this.phases.at(-1) === phase, withinS);
  }

  order(order: PersonOrder['order'], currentA?: number): boolean {
    const { by } = this;
    return this.bench.person(currentA === undefined ? { order, by } : { order, by, currentA });
  }

  /** To where the next may begin. */
  async closed(withinS = 300): Promise<{ readonly outcome: Outcome; readonly exit: number }> {
    await this.until(() => this.bench.running === null, withinS);
    return this.ends.at(-1) as { readonly outcome: Outcome; readonly exit: number };
  }
}
