/**
 * Where a person's start, acknowledgement or wish to free the plug waits until it can be judged: after the handshakes and a full fresh
 * run of all checks, and not for ever.
 */
import type { Finding, Proof, Wish } from '../checks/check.js';
import type { Rig } from '../rig/schema.js';
import type { StartFault } from './handshake.js';
import type { Handshakes } from './handshakes.js';
import type { Found } from './outcome.js';
import { againstAcknowledge, againstFreeing, againstStart } from './permission.js';
import type { PersonOrder } from './session-types.js';

/** Steps of each port with every role present before anything is judged: nothing is permitted before a full fresh run. */
const FULL_RUNS = 4;
/** An order that cannot be judged for want of readings is refused after this. */
const PATIENCE_MS = 4000;

export interface DeskView {
  readonly handshakes: Handshakes;
  /** Every role has reported. */
  readonly complete: boolean;
  readonly standing: readonly Finding[];
  readonly proofs: ReadonlySet<Proof | 'proven-dead'>;
  /** As last read, V; NaN before. */
  readonly plugV: number;
}

export interface Verdict {
  readonly order: PersonOrder;
  /** Everything that speaks against it; empty: it is permitted. */
  readonly against: readonly Found[];
}

export class Desk {
  #waiting: { readonly order: PersonOrder; readonly atMs: number } | null = null;
  #fullRuns = 0;

  constructor(
    private readonly rig: Rig,
    private readonly wish: Wish,
    private readonly startFaults: readonly StartFault[],
  ) {}

  /** One at a time: the clerk lets no other through. */
  take(order: PersonOrder, nowMs: number): void {
    this.#waiting = { order, atMs: nowMs };
  }

  /** @returns the verdict, once; null while nothing waits or nothing can be judged yet */
  judge(view: DeskView, nowMs: number): Verdict | null {
    if (view.complete) this.#fullRuns++;
    if (this.#waiting === null) return null;
    const { order, atMs } = this.#waiting;
    const silent = view.handshakes.silentPort();
    // Each port that reports makes a step: with two of them four steps would be two readings of each.
    if (silent !== null || this.#fullRuns < FULL_RUNS * this.rig.link.ports.length) {
      if (nowMs - atMs < PATIENCE_MS) return null;
      this.#waiting = null;
      const found: Found =
        silent !== null
          ? { code: 'no-handshake', part: silent }
          : { code: 'reading-stale', part: 'not every role reports' };
      return { order, against: [found] };
    }
    this.#waiting = null;
    const faults = [...this.startFaults, ...view.handshakes.faults];
    return { order, against: this.#against(order, view, faults) };
  }

  #against(order: PersonOrder, view: DeskView, faults: readonly StartFault[]): Found[] {
    if (order.order === 'start') return againstStart(this.rig, this.wish, faults, view.standing);
    if (order.order === 'free-plug')
      return againstFreeing(this.rig, view.standing, view.proofs, view.plugV, faults);
    return againstAcknowledge(view.standing, view.proofs, order.measuredDead === true, faults);
  }
}
