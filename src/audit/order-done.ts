/**
 * Whether an order that starts no session was carried out: the latch cleared, the plug freed. Its journal ends as
 * `refused`, because nothing was started; that it was done shows in that nothing speaks against it and nobody asked for
 * an end instead.
 */
import type { Entry } from './entry.js';

export interface OrderDone {
  readonly order: 'acknowledge' | 'free-plug';
  readonly by: string;
}

/** What leaves when it is done. */
const LEAVES: Readonly<Record<OrderDone['order'], string>> = {
  acknowledge: 'clear-latch',
  'free-plug': 'unlock',
};
const isOne = (order: unknown): order is OrderDone['order'] => typeof order === 'string' && order in LEAVES;

export class OrderDoneFinder {
  #asked: OrderDone | null = null;
  #left = false;
  #refused = false;
  #done: OrderDone | null = null;
  #endMs = Number.NaN;

  /** null: nothing of the kind was asked, or it was not done. */
  get result(): OrderDone | null {
    return this.#done;
  }

  take({ k, b, tMs, sent }: Entry): void {
    if (k === 'person') {
      // Who asks to stop while the order waits has taken it back; the end that this brings stands before it.
      if (b.order === 'stop' && tMs === this.#endMs) this.#done = null;
      else if (isOne(b.order)) this.#asked ??= { order: b.order, by: b.by };
    } else if (k === 'refusal') this.#refused = true;
    else if (k === 'end') {
      this.#endMs = tMs;
      const nothingElse = b.outcome === 'refused' && b.endReason === 'operator' && !this.#refused;
      this.#done = nothingElse && this.#left ? this.#asked : null;
    } else if (this.#asked !== null) {
      const { order } = this.#asked;
      this.#left ||= sent.some(({ name }) => name === LEAVES[order]);
    }
  }
}

export const DONE_TEXT: Readonly<Record<OrderDone['order'], string>> = {
  acknowledge: 'acknowledged: the latch of the device was cleared',
  'free-plug': 'the plug was freed: its lock reads free',
};
