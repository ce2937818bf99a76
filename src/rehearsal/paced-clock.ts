/**
 * Moves a virtual clock on by the real one, at a speed people choose: a bench that is watched and driven by hand.
 * The virtual clock stays what it is, so that everything on it happens in the same order at the same times however
 * unevenly the computer lets it run.
 *
 * Promise: one pump works for a bounded real time and then lets others run, with what is owed left for the next; and
 * what is owed has a bound too, so that a process that was stopped, or a computer that is too slow for the speed,
 * lets time go and does not race after it.
 */
import type { VirtualClock } from '../../simulators/virtual-clock.js';
import type { Clock } from '../host/clock.js';
import { InputError } from '../host/input-error.js';

export const SLOWEST = 1;
export const FASTEST = 60;
/** Real time between two pumps: less than one report period of any rig, so that what is seen moves evenly. */
const PUMP_MS = 15;
/** No more real time than this is ever caught up. */
const MOST_OWED_MS = 250;
/** Real work in one pump: about half of the time, so that a page is served beside it at any speed. */
const WORK_MS = 8;

export class PacedClock {
  readonly virtual: VirtualClock;
  readonly #real: Clock;
  readonly #failed: (error: Error) => void;
  #speed = SLOWEST;
  /** Real time up to which what passed is accounted for. */
  #seenMs = 0;
  /** Virtual time that is to be run still. */
  #owedMs = 0;
  #cancel: (() => void) | null = null;

  /** @param failed what a callback of the virtual clock threw; time runs on */
  constructor(virtual: VirtualClock, real: Clock, failed: (error: Error) => void) {
    this.virtual = virtual;
    this.#real = real;
    this.#failed = failed;
  }

  /** Times real time. */
  get speed(): number {
    return this.#speed;
  }

  /** From now on; what passed up to now counts at the speed it passed at. @throws InputError */
  set speed(wanted: number) {
    if (!(wanted >= SLOWEST && wanted <= FASTEST))
      throw new InputError(
        `a speed of ${wanted} is not possible; it goes from ${SLOWEST} to ${FASTEST} times real time`,
      );
    if (this.running) this.#account();
    this.#speed = wanted;
  }

  get running(): boolean {
    return this.#cancel !== null;
  }

  start(): void {
    if (this.running) return;
    this.#seenMs = this.#real.nowMs();
    this.#owedMs = 0;
    this.#next(PUMP_MS);
  }

  /** Time stands from now on. */
  stop(): void {
    this.#cancel?.();
    this.#cancel = null;
  }

  #next(delayMs: number): void {
    this.#cancel = this.#real.after(delayMs, () => {
      const fromMs = this.#real.nowMs();
      this.#account();
      this.#pump();
      // A callback may have stopped it. What the work took is part of the time between two pumps.
      if (this.running) this.#next(Math.max(1, PUMP_MS - (this.#real.nowMs() - fromMs)));
    });
  }

  #account(): void {
    const nowMs = this.#real.nowMs();
    const passedMs = Math.max(0, nowMs - this.#seenMs);
    this.#seenMs = nowMs;
    this.#owedMs = Math.min(this.#owedMs + passedMs * this.#speed, MOST_OWED_MS * this.#speed);
  }

  #pump(): void {
    const { virtual } = this;
    const untilMs = virtual.nowMs() + this.#owedMs;
    const endMs = this.#real.nowMs() + WORK_MS;
    try {
      virtual.runUntil(untilMs, () => !this.running || this.#real.nowMs() >= endMs);
    } catch (error) {
      this.#failed(error instanceof Error ? error : new Error(String(error)));
    }
    this.#owedMs = Math.max(0, untilMs - virtual.nowMs());
  }
}
