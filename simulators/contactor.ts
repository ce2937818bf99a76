/**
 * One pole of a contactor or relay: the coil is driven, and the pole follows after its travelling time. The
 * auxiliary is a mirror contact and follows the pole, unless it lies.
 */
import type { SeededRandom } from './seeded-random.js';

/** What is wrong with a pole. */
export type PoleDefect =
  | 'none'
  /** Once closed it stays closed; its mirror contact says so. */
  | 'welds'
  /** The coil does not pull it in. */
  | 'wont-close'
  /** It does not close, and its auxiliary follows the coil: says closed while open. */
  | 'aux-says-closed'
  /** It does not open, and its auxiliary follows the coil: says open while closed. */
  | 'aux-says-open';

export class Pole {
  coil = false;
  closed = false;
  /** Auxiliary contact. */
  aux = false;
  defect: PoleDefect = 'none';
  readonly closeMs: number;
  readonly openMs: number;
  /** When the present movement ends; Infinity when at rest. */
  dueMs = Number.POSITIVE_INFINITY;

  /** The rig states the longest travelling times; a healthy pole takes 80 to 98 % of them. */
  constructor(closeMs: number, openMs: number, random: SeededRandom) {
    this.closeMs = Math.max(1, Math.round(closeMs * random.between(0.8, 0.98)));
    this.openMs = Math.max(1, Math.round(openMs * random.between(0.8, 0.98)));
  }

  drive(on: boolean, nowMs: number): void {
    if (this.coil === on) return;
    this.coil = on;
    this.dueMs = nowMs + (on ? this.closeMs : this.openMs);
  }

  /** A spring or weld forces the pole; the coil has no say. */
  force(closed: boolean): void {
    this.closed = closed;
    this.aux = closed;
  }

  /** Ends a movement that is due. Returns true when the pole itself moved. */
  settle(nowMs: number): boolean {
    if (nowMs < this.dueMs) return false;
    this.dueMs = Number.POSITIVE_INFINITY;
    const before = this.closed;
    if (this.coil) {
      this.closed = this.closed || (this.defect !== 'wont-close' && this.defect !== 'aux-says-closed');
      this.aux = this.defect === 'aux-says-closed' ? true : this.closed;
    } else {
      this.closed = this.closed && (this.defect === 'welds' || this.defect === 'aux-says-open');
      this.aux = this.defect === 'aux-says-open' ? false : this.closed;
    }
    return this.closed !== before;
  }

  /** A defect that appears or is repaired now; the next movement shows it. */
  setDefect(defect: PoleDefect, nowMs: number): void {
    this.defect = defect;
    // A repaired weld lets go at once if the coil is off; a repaired coil pulls in.
    if (defect === 'none' && this.coil !== this.closed) this.dueMs = nowMs + 1;
  }
}
