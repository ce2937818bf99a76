/**
 * Gives a team at a live bench its exercises: sets the train up, hides what goes wrong, notes what is seen and ordered,
 * and ends with a debrief: when all was seen, when it cannot be reached any more, when the time is over, or when asked.
 */
import { InputError } from '../host/input-error.js';
import type { Outcome } from '../supervisor/outcome.js';
import type { PersonOrder, Progress } from '../supervisor/session-types.js';
import type { Beginning, ExerciseState, Exercises, ExerciseTold } from '../supervisor/stand.js';
import { type Debrief, debriefOf, type Fact, judge } from './debrief.js';
import type { Exercise } from './exercise.js';
import type { LiveBench } from './live-bench.js';

/** Bounds what a session that flickers for hours can collect. */
const MOST_FACTS = 2000;

interface Running {
  readonly exercise: Exercise;
  /** Clock time. */
  readonly originMs: number;
  readonly facts: Fact[];
  /** Of sessions that are over, ms. */
  spentMs: number;
  /** Clock time at which the session under way began. */
  sinceMs: number | null;
  cancel: () => void;
  debrief: Debrief | null;
}

type New = Fact extends infer F ? (F extends Fact ? Omit<F, 'atMs'> : never) : never;

export class ExerciseDesk implements Exercises {
  readonly all: readonly ExerciseTold[];
  #running: Running | null = null;
  #changed: () => void = () => {};

  constructor(
    private readonly bench: LiveBench,
    private readonly exercises: readonly Exercise[],
  ) {
    this.all = exercises.map(({ name, title, goal }) => ({ name, title, goal }));
    bench.watch({
      begun: (what) => this.#begun(what),
      progress: (what) => this.#progress(what),
      ended: (outcome, exit) => this.#ended(outcome, exit),
      ordered: (order) => this.#ordered(order),
      closed: () => this.#closed(),
      failed: () => {},
    });
  }

  get state(): ExerciseState | null {
    if (this.#running === null) return null;
    const { exercise, debrief } = this.#running;
    const { name, title, goal } = exercise;
    return { name, title, goal, debrief };
  }

  listen(changed: () => void): void {
    this.#changed = changed;
  }

  begin(name: string): void {
    const { bench } = this;
    const exercise = this.exercises.find((e) => e.name === name);
    if (exercise === undefined) {
      const known = this.exercises.map((e) => e.name).join(', ');
      throw new InputError(`there is no exercise ${name} for this rig; known exercises: ${known || 'none'}`);
    }
    if (this.#running !== null && this.#running.debrief === null)
      throw new InputError(`the exercise ${this.#running.exercise.name} is under way; end it first`);
    const { trip, open } = bench.latch;
    // It would be refused for a reason that is none of the exercise's; and a latch is nobody's to sweep away.
    if (exercise.start.latched !== true && (trip !== null || open?.energised === true))
      throw new InputError(
        `a trip is latched (${trip?.code ?? 'a session left unfinished'}): acknowledge it before an exercise begins`,
      );
    bench.renew(exercise.start, exercise.seed);
    this.#running = {
      exercise,
      originMs: bench.clock.nowMs(),
      facts: [],
      spentMs: 0,
      sinceMs: null,
      cancel: () => {},
      debrief: null,
    };
    for (const { phase, ...fault } of exercise.inject)
      bench.inject(phase === 'start' ? fault : { ...fault, phase }, true);
    this.#changed();
  }

  end(): void {
    if (this.#running !== null) this.#finish(this.#running, false);
  }

  #finish(running: Running, late: boolean): void {
    if (running.debrief !== null) return;
    running.cancel();
    const { exercise, facts, originMs } = running;
    running.debrief = debriefOf(exercise, { facts, made: this.bench.made, originMs, late });
    this.bench.dropHidden();
    this.bench.reveal();
    this.#changed();
  }

  #note(fact: New): void {
    const running = this.#running;
    if (running === null || running.debrief !== null || running.facts.length >= MOST_FACTS) return;
    running.facts.push({ ...fact, atMs: this.bench.clock.nowMs() - running.originMs } as Fact);
  }

  #begun({ order, by }: Beginning): void {
    this.#note({ kind: 'begun', order, by });
    const running = this.#running;
    if (running === null || running.debrief !== null) return;
    running.sinceMs = this.bench.clock.nowMs();
    const leftMs = running.exercise.withinMin * 60_000 - running.spentMs;
    running.cancel = this.bench.clock.after(leftMs, () => this.#finish(running, true));
  }

  #progress(what: Progress): void {
    // A burst is for looking at, not for telling.
    if (what.kind !== 'wave') this.#note(what);
  }

  #ended(outcome: Outcome, exit: number): void {
    const { running: what } = this.bench;
    if (what !== null) this.#note({ kind: 'ended', order: what.order, outcome, exit });
    const running = this.#running;
    if (running === null || running.sinceMs === null) return;
    running.cancel();
    running.spentMs += this.bench.clock.nowMs() - running.sinceMs;
    running.sinceMs = null;
  }

  #ordered(order: PersonOrder): void {
    this.#note({ kind: 'order', order });
  }

  /** Only now, so that what came after the end of a session counts too. */
  #closed(): void {
    const running = this.#running;
    if (running === null || running.debrief !== null) return;
    const { reached, broken } = judge(running.exercise, running.facts);
    if (reached || broken.length > 0) this.#finish(running, false);
  }
}
