/** The stand: plug latch or shoe mechanism, berth, protective bond, and the reading of the hard-wired stop chain. */
import type { SeededRandom } from './seeded-random.js';

const LATCH_MS = 300;

export class Stand {
  seated = true;
  locked = false;
  #wantsLocked = false;
  latchDueMs = Number.POSITIVE_INFINITY;
  /** Fault: the bolt meets an obstruction. */
  latchBlocked = false;
  /** Fault: the bolt does not move. */
  latchStuck = false;
  /** Shoes: each touches its plate; sense contacts make last and break first. */
  readonly shoeSense = { p: true, n: true };
  plateCovered = true;
  atStand = true;
  brakeOn = true;
  tractionInhibited = true;
  bondOhm: number;
  buttonPressed = false;
  chainClosed = true;

  constructor(random: SeededRandom, locked = false) {
    this.locked = locked;
    this.#wantsLocked = locked;
    this.bondOhm = random.between(0.015, 0.025);
  }

  order(lock: boolean, nowMs: number): void {
    if (lock === this.#wantsLocked) return;
    this.#wantsLocked = lock;
    this.latchDueMs = nowMs + LATCH_MS;
  }

  settle(nowMs: number): void {
    if (nowMs < this.latchDueMs) return;
    this.latchDueMs = Number.POSITIVE_INFINITY;
    if (this.latchStuck) return;
    this.locked = this.#wantsLocked && !this.latchBlocked && this.seated;
  }

  /** Plug or shoes are where they belong again; a bolt that was let go of obeys the next order. */
  mend(): void {
    this.seated = true;
    this.shoeSense.p = true;
    this.shoeSense.n = true;
    if (this.latchDueMs === Number.POSITIVE_INFINITY) this.#wantsLocked = this.locked;
  }

  press(pressed: boolean): void {
    this.buttonPressed = pressed;
    this.chainClosed = !pressed;
  }
}
