/** What an entry of the catalogue holds, and what its effect means. */

/**
 * What a failing finding does once a session has left `parked`:
 * - `note`: journaled and shown
 * - `derate`: a named current limit governs; journaled and shown
 * - `stop`: controlled stop (stop category 1), nothing latched
 * - `trip-1`: ramp down with a deadline, then make safe; latched
 * - `trip-0`: make safe at once; latched
 * - `refuse`: only ever a refusal of a start or another order
 */
export type Effect = 'note' | 'derate' | 'stop' | 'trip-1' | 'trip-0' | 'refuse';

export interface CodeEntry {
  readonly effect: Effect;
  /** Failing while parked, it refuses the start. */
  readonly refusesStart: boolean;
  /** What has been seen, for people. */
  readonly text: string;
  /** What to do, or what would permit the move. */
  readonly remedy: string;
}

export const code = (effect: Effect, refusesStart: boolean, text: string, remedy: string): CodeEntry => ({
  effect,
  refusesStart,
  text,
  remedy,
});
