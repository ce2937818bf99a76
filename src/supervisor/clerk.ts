/** Carries out what the desk has judged: refuses, starts, or has the latches cleared for a named person. */
import type { Proof } from '../checks/check.js';
import type { Conduct } from './conduct.js';
import { Desk, type DeskView } from './desk.js';
import type { SessionLog } from './log.js';
import type { Outbox } from './outbox.js';
import type { Found } from './outcome.js';
import type { PersonOrder, SessionOutputs, SessionSetup } from './session-types.js';

export interface ClerkParts {
  readonly setup: SessionSetup;
  readonly out: SessionOutputs;
  readonly log: SessionLog;
  readonly outbox: Outbox;
  readonly conduct: Conduct;
  give(type: 'start' | 'acknowledge', nowMs: number): void;
  end(nowMs: number): void;
}

export class Clerk {
  readonly #desk: Desk;
  /** Whose order waits for device latches to clear, since when, and how many have not answered yet. */
  #clearing: { readonly order: PersonOrder; readonly sinceMs: number; left: number } | null = null;
  /** True once an acknowledgement was carried out. */
  acknowledged = false;

  constructor(private readonly parts: ClerkParts) {
    const { rig, wish, startFaults } = parts.setup;
    this.#desk = new Desk(rig, wish, startFaults);
  }

  /** @returns false when another order waits already */
  take(order: PersonOrder, nowMs: number): boolean {
    return this.#desk.take(order, nowMs);
  }

  consider(view: DeskView, nowMs: number): void {
    this.#waitedEnough(nowMs);
    const verdict = this.#desk.judge(view, nowMs);
    if (verdict === null) return;
    const { order, against } = verdict;
    const { conduct, log, out } = this.parts;
    if (order.order === 'start' && this.#owed(against, view.proofs)) {
      this.#await(order, nowMs);
      this.#clear(nowMs);
      return;
    }
    for (const found of against) log.refuse(found, order, nowMs);
    if (against.length > 0) this.parts.end(nowMs);
    else if (order.order === 'acknowledge') {
      this.#await(order, nowMs);
      // The machine orders it where it holds a latch itself; a latch of the device alone is cleared from here.
      if (conduct.can('acknowledge')) this.parts.give('acknowledge', nowMs);
      else this.#clear(nowMs);
    } else if (conduct.can('start')) {
      out.started();
      this.parts.give('start', nowMs);
    } else {
      log.refuse({ code: 'latched' }, order, nowMs);
      this.parts.end(nowMs);
    }
  }

  /**
   * The trip was acknowledged by name while the device was not connected, and nothing but the device's own latch
   * speaks against the start: its latch is cleared now, on readings that prove everything dead.
   */
  #owed(against: readonly Found[], proofs: ReadonlySet<Proof | 'proven-dead'>): boolean {
    const onlyThat = against.length > 0 && against.every((f) => f.code === 'device-latched');
    return this.parts.setup.owedAcknowledgement && onlyThat && proofs.has('proven-dead');
  }

  #await(order: PersonOrder, nowMs: number): void {
    this.#clearing = { order, sinceMs: nowMs, left: this.parts.setup.rig.link.ports.length };
  }

  /** An answer that never comes ends the waiting too: nobody knows then what the device did with its latch. */
  #waitedEnough(nowMs: number): void {
    if (this.#clearing === null) return;
    const { order, sinceMs } = this.#clearing;
    const limit = this.parts.setup.rig.link.answerMs;
    const reading = nowMs - sinceMs;
    if (reading <= limit) return;
    this.#clearing = null;
    const found = { part: 'clear-latch', reading, limit, unit: 'ms', setting: 'link.answerMs' };
    this.parts.log.refuse({ code: 'order-unanswered', ...found }, order, nowMs);
    this.parts.end(nowMs);
  }

  #clear(nowMs: number): void {
    this.parts.outbox.dispatch([{ name: 'clear-latch', args: {} }], nowMs);
  }

  /** One port has answered; all must have cleared. */
  latchAnswered(latch: 'cleared' | 'not-cleared', nowMs: number): void {
    if (this.#clearing === null) return;
    const { order } = this.#clearing;
    if (latch === 'cleared') {
      this.#clearing.left--;
      if (this.#clearing.left > 0) return;
      this.#clearing = null;
      // A start that waited for it is judged afresh, on readings taken after it.
      if (order.order === 'start') {
        this.#desk.take(order, nowMs);
        return;
      }
      this.acknowledged = true;
    } else {
      this.#clearing = null;
      this.parts.log.refuse({ code: 'not-proven-dead', part: 'the device keeps its latch' }, order, nowMs);
    }
    this.parts.end(nowMs);
  }
}
