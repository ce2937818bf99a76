/**
 * Orders by people. None is ignored: it is carried out, put off until the desk can judge it, or refused with the
 * reason. Has the latches cleared and the plug freed for a named person, and waits for the device's word on it.
 */
import type { Proof } from '../checks/check.js';
import type { Conduct } from './conduct.js';
import { Desk, type DeskView } from './desk.js';
import { ownFinding, type SessionLog } from './log.js';
import type { Outbox } from './outbox.js';
import type { Found } from './outcome.js';
import { againstCurrentLimit } from './permission.js';
import type { Regulator } from './regulator.js';
import type { PersonOrder, SessionOutputs, SessionSetup } from './session-types.js';

export interface ClerkParts {
  readonly setup: SessionSetup;
  readonly out: SessionOutputs;
  readonly log: SessionLog;
  readonly outbox: Outbox;
  readonly conduct: Conduct;
  readonly regulator: Regulator;
  give(type: 'start' | 'acknowledge' | 'stop' | 'trip-0', nowMs: number): void;
  /** A person has asked for the end. */
  stopped(): void;
  /** Train volts as last read; NaN before. */
  trainV(): number;
  ended(): boolean;
  end(nowMs: number): void;
}

/** A plug that is dead and still not free after this is stuck. */
export const FREEING_MS = 5000;

export class Clerk {
  readonly #desk: Desk;
  /** Whose order waits for device latches to clear, since when, and how many have not answered yet. */
  #clearing: { readonly order: PersonOrder; readonly sinceMs: number; left: number } | null = null;
  /** Who waits for the plug to come free, and since when. */
  #freeing: { readonly order: PersonOrder; readonly sinceMs: number } | null = null;
  /**
   * A session is opened by one order, whose wish is its own. Another one while that is carried out (the plug being
   * freed, the device being asked for its latch) would run with the first one's wish, or end it half way.
   */
  #opened = false;
  /** True once an acknowledgement or the freeing of the plug was carried out. */
  carriedOut = false;

  constructor(private readonly parts: ClerkParts) {
    const { rig, wish, startFaults } = parts.setup;
    this.#desk = new Desk(rig, wish, startFaults);
  }

  receive(order: PersonOrder, nowMs: number): void {
    const { conduct, log } = this.parts;
    const { phase } = conduct;
    for (const found of this.#act(order, nowMs)) log.refuse(found, order, nowMs);
    // Asked to stop before anything was ordered: there is nothing left to wait for.
    if (order.order === 'stop' && phase === 'parked') this.parts.end(nowMs);
  }

  /** @returns what speaks against it; nothing when it was done, or waits for the desk */
  #act(order: PersonOrder, nowMs: number): readonly Found[] {
    const { conduct, log, regulator, setup } = this.parts;
    const { phase } = conduct;
    const notNow: readonly Found[] = [{ code: 'not-permitted-now', part: phase }];
    switch (order.order) {
      case 'trip-now':
        if (!conduct.can('trip-0')) return notNow;
        this.parts.give('trip-0', nowMs);
        log.noteTrip(ownFinding('trip-now', nowMs, { part: order.by }), nowMs, phase);
        return [];
      case 'stop':
        if (!conduct.can('stop')) return notNow;
        this.parts.stopped();
        this.parts.give('stop', nowMs);
        return [];
      case 'limit-current': {
        if (regulator.mode !== 'govern') return notNow;
        const { currentA = Number.NaN } = order;
        const against = againstCurrentLimit(setup.rig, currentA, this.parts.trainV());
        if (against.length === 0) regulator.limitByPerson(currentA);
        return against;
      }
      case 'sample-pilot': {
        const why = this.#againstSampling();
        if (why !== null) return [{ code: 'not-permitted-now', part: why }];
        this.parts.outbox.dispatch([{ name: 'waveform', args: {} }], nowMs);
        return [];
      }
      default:
        if (phase !== 'parked' || this.parts.ended() || this.#opened) return notNow;
        this.#opened = true;
        this.#desk.take(order, nowMs);
        return [];
    }
  }

  /** Why no burst of pilot samples may be asked for; null when it may. */
  #againstSampling(): string | null {
    const { conduct, setup } = this.parts;
    if (setup.rig.pilot === undefined) return 'this rig has no pilot loop';
    if (this.parts.ended()) return 'the session has ended';
    // A newer burst replaces one under way, and the one of the trip is evidence.
    if (conduct.phase === 'making-safe') return 'making-safe: the device sends the burst of the trip';
    return null;
  }

  consider(view: DeskView, nowMs: number): void {
    this.#waitedEnough(nowMs);
    this.#watchPlug(view, nowMs);
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
    else if (order.order === 'free-plug') {
      this.#freeing = { order, sinceMs: nowMs };
      this.parts.outbox.dispatch([{ name: 'unlock', args: {} }], nowMs);
    } else if (order.order === 'acknowledge') {
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

  /** The plug is free when its lock says so, not because it was ordered. */
  #watchPlug(view: DeskView, nowMs: number): void {
    if (this.#freeing === null) return;
    const { order, sinceMs } = this.#freeing;
    const isFree = view.proofs.has('plug-free');
    if (!isFree && nowMs - sinceMs < FREEING_MS) return;
    this.#freeing = null;
    if (isFree) this.carriedOut = true;
    else this.parts.log.refuse({ code: 'plug-stuck', part: 'latch.locked' }, order, nowMs);
    this.parts.end(nowMs);
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
      this.carriedOut = true;
    } else {
      this.#clearing = null;
      this.parts.log.refuse({ code: 'not-proven-dead', part: 'the device keeps its latch' }, order, nowMs);
    }
    this.parts.end(nowMs);
  }
}
