/** What the device made of our orders: rejections and missing answers, as findings. */
import type { Finding } from '../checks/check.js';
import type { JournalWriter } from '../journal/writer.js';
import type { AnswerFrame } from '../link/frames.js';
import type { Order } from '../rig/orders.js';
import type { Rig } from '../rig/schema.js';
import { ownFinding } from './log.js';
import type { Outbox } from './outbox.js';
import type { Regulator } from './regulator.js';

/** An order without an answer is said again after this many report periods. */
const REPEAT_PERIODS = 2;

export class Answers {
  #rejected: Finding | null = null;

  constructor(
    private readonly rig: Rig,
    private readonly outbox: Outbox,
    private readonly regulator: Regulator,
    private readonly journal: JournalWriter,
  ) {}

  /** @returns what became of a `clear-latch`, when this answer speaks of one */
  take(port: number, body: AnswerFrame, nowMs: number): 'cleared' | 'not-cleared' | null {
    const sent = this.outbox.answered(port, body);
    if (sent === null) return null;
    if (body.answer === 'done') {
      for (const order of sent.orders) {
        if (order.name === 'authority') this.regulator.confirmed(order, sent.sentMs);
      }
      return sent.orders.some((o) => o.name === 'clear-latch') ? 'cleared' : null;
    }
    const order = sent.orders[body.failed ?? 0];
    this.journal.record(nowMs, 'answer', { port, re: body.re, answer: body.answer, order });
    if (order?.name === 'clear-latch') return 'not-cleared';
    // What it rests on may have been lost on the way: both are said again, in their order.
    if (body.answer === 'not-permitted' && this.outbox.olderWaits(port, body.re)) {
      this.outbox.postpone(sent, nowMs);
      return null;
    }
    // On the way down the device may already have withdrawn what a last set-point needed.
    const late = order?.name === 'setpoint' && this.regulator.mode !== 'govern';
    if (!late)
      this.#rejected ??= ownFinding('order-rejected', nowMs, {
        part: `${order?.name ?? '?'}: ${body.answer}`,
      });
    return null;
  }

  /** Says again what has had no answer. After the checks of the step, whose verdicts the gate goes by. */
  insist(nowMs: number): void {
    this.outbox.insist(nowMs, REPEAT_PERIODS * this.rig.link.periodMs);
  }

  findings(nowMs: number): Finding[] {
    const own: Finding[] = this.#rejected === null ? [] : [this.#rejected];
    const overdue = this.outbox.overdue(nowMs, this.rig.link.answerMs);
    if (overdue === null) return own;
    // Make-safe is said until somebody answers.
    const again: Order[] = overdue.orders.filter((o) => o.name === 'make-safe');
    if (again.length > 0) this.outbox.dispatch(again, nowMs);
    // A lost set-point is followed by the next one; the tracking check holds the current against it.
    if (overdue.orders.every((o) => o.name === 'setpoint')) return own;
    const limit = this.rig.link.answerMs;
    own.push(
      ownFinding('order-unanswered', nowMs, {
        part: `${this.rig.link.ports[overdue.port]?.name}: ${overdue.orders.map((o) => o.name).join(', ')}`,
        reading: nowMs - overdue.sentMs,
        limit,
        unit: 'ms',
        setting: 'link.answerMs',
        sinceMs: overdue.sentMs + limit,
      }),
    );
    return own;
  }
}
