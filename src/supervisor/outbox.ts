/**
 * Sends orders: splits them by port, holds durable ones until the journal has them, asks the gate, waits for
 * answers. What only makes safer leaves at once and is journaled after it has left.
 */
import type { JournalWriter } from '../journal/writer.js';
import { encodeToDevice } from '../link/codec.js';
import type { AnswerFrame, ToDevice } from '../link/frames.js';
import { MAX_ORDERS } from '../link/frames.js';
import { ORDERS, type Order } from '../rig/orders.js';
import { askGate, type GateView } from './gate.js';
import { replacementKey } from './order-book.js';

export interface Unanswered {
  readonly port: number;
  readonly seq: number;
  readonly orders: readonly Order[];
  /** First sent. */
  readonly sentMs: number;
  /** Last said again. */
  readonly saidMs: number;
}

interface Pending {
  readonly orders: readonly Order[];
  readonly upTo: number;
}

/** Orders waiting for the journal, and frames waiting for answers; more than this is itself a fault. */
const MAX_WAITING = 64;

export interface OutboxContext {
  readonly nonce: string;
  readonly ports: number;
  /** Ports that carry out this order. */
  portsOf(order: Order): readonly number[];
  send(port: number, line: string): boolean;
  gate(): GateView;
  /** Called before an order that can make something live leaves. */
  energising(): void;
  /** Called for each order as it leaves. */
  sent(order: Order, nowMs: number): void;
}

export class Outbox {
  readonly #seq: number[];
  #pending: Pending[] = [];
  #unanswered: Unanswered[] = [];
  /** Newest frame (port and sequence) that carried an order of this key. */
  readonly #newest = new Map<string, string>();

  constructor(
    private readonly context: OutboxContext,
    private readonly journal: JournalWriter,
  ) {
    this.#seq = new Array<number>(context.ports).fill(0);
  }

  get waiting(): boolean {
    return this.#pending.length > 0;
  }

  /** Sends a frame that is not an order (hello, feed). */
  frame(port: number, body: ToDevice): boolean {
    const seq = this.#nextSeq(port);
    return this.context.send(port, encodeToDevice(this.context.nonce, seq, body));
  }

  /**
   * Leading free orders leave now. From the first durable one on the rest keeps together and waits for the
   * journal; set-points inside a live authority go through the gate at once.
   */
  dispatch(orders: readonly Order[], nowMs: number): void {
    const first = orders.findIndex((o) => ORDERS[o.name].permission === 'durable');
    const now = first < 0 ? orders : orders.slice(0, first);
    if (now.length > 0) this.#let(now, nowMs);
    if (first < 0) return;
    const held = orders.slice(first);
    if (this.#pending.length >= MAX_WAITING) {
      this.journal.record(nowMs, 'dropped', { orders: held, why: 'too many orders wait for the journal' });
      return;
    }
    const upTo = this.journal.record(nowMs, 'order', { orders: held, durable: true });
    this.#pending.push({ orders: held, upTo });
    this.journal.requestSync(nowMs);
  }

  /** The journal has everything up to this sequence: what waited for it may go, if the gate still agrees. */
  synced(upTo: number, nowMs: number): void {
    const ready = this.#pending.filter((p) => p.upTo <= upTo);
    this.#pending = this.#pending.filter((p) => p.upTo > upTo);
    for (const p of ready) this.#let(p.orders, nowMs);
  }

  #let(orders: readonly Order[], nowMs: number): void {
    const allowed: Order[] = [];
    for (const [i, order] of orders.entries()) {
      const why = askGate(order, this.context.gate());
      if (why !== null) {
        // The rest of the group was meant to follow this order: it is dropped with it.
        this.journal.record(nowMs, 'dropped', { orders: orders.slice(i), why });
        break;
      }
      allowed.push(order);
    }
    if (allowed.some((o) => ORDERS[o.name].permission === 'durable')) this.context.energising();
    for (let port = 0; port < this.context.ports; port++) {
      const mine = allowed.filter((o) => this.context.portsOf(o).includes(port));
      for (let at = 0; at < mine.length; at += MAX_ORDERS)
        this.#send(port, mine.slice(at, at + MAX_ORDERS), nowMs);
    }
    for (const order of allowed) this.context.sent(order, nowMs);
  }

  #send(port: number, orders: readonly Order[], nowMs: number, sentMs = nowMs): void {
    const seq = this.#nextSeq(port);
    const ok = this.context.send(port, encodeToDevice(this.context.nonce, seq, { verb: 'order', orders }));
    this.journal.record(nowMs, 'order', { port, seq, orders, sent: ok });
    for (const order of orders) this.#newest.set(`${port} ${replacementKey(order)}`, `${seq}`);
    this.#unanswered.push({ port, seq, orders, sentMs, saidMs: nowMs });
    if (this.#unanswered.length > MAX_WAITING) this.#unanswered.shift();
  }

  /**
   * Says again what has had no answer for `everyMs`. Orders are such that saying them twice does no harm; one
   * that a newer order has replaced meanwhile is not repeated, and the gate is asked again like the first time.
   */
  insist(nowMs: number, everyMs: number): void {
    const late = this.#unanswered.filter((u) => nowMs - u.saidMs >= everyMs);
    if (late.length === 0) return;
    this.#unanswered = this.#unanswered.filter((u) => !late.includes(u));
    for (const u of late) {
      const current = u.orders.filter(
        (o) =>
          this.#newest.get(`${u.port} ${replacementKey(o)}`) === `${u.seq}` &&
          askGate(o, this.context.gate()) === null,
      );
      if (current.length === 0) continue;
      this.#send(u.port, current, nowMs, u.sentMs);
      // What follows from an order is awaited from when it was last said; `answerMs` bounds how often that is.
      for (const order of current) this.context.sent(order, nowMs);
    }
  }

  /** @returns the orders the answer speaks of, or null when it answers nothing that waits */
  answered(port: number, answer: AnswerFrame): Unanswered | null {
    const at = this.#unanswered.findIndex((u) => u.port === port && u.seq === answer.re);
    if (at < 0) return null;
    const [found] = this.#unanswered.splice(at, 1);
    return found ?? null;
  }

  /** An earlier order to the same device has no answer yet: it may have been lost on the way. */
  olderWaits(port: number, seq: number): boolean {
    return this.#unanswered.some((u) => u.port === port && u.seq < seq);
  }

  /** The device could not do it yet: it is said again after what came before it, and is not answered till then. */
  postpone(frame: Unanswered, nowMs: number): void {
    this.#unanswered.push({ ...frame, saidMs: nowMs });
  }

  /** Oldest frame without an answer for longer than `answerMs`, forgotten once told. */
  overdue(nowMs: number, answerMs: number): Unanswered | null {
    const at = this.#unanswered.findIndex((u) => nowMs - u.sentMs > answerMs);
    if (at < 0) return null;
    const [found] = this.#unanswered.splice(at, 1);
    return found ?? null;
  }

  #nextSeq(port: number): number {
    const seq = (this.#seq[port] ?? 0) + 1;
    this.#seq[port] = seq;
    return seq;
  }
}
