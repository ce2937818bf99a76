/**
 * The timing of the make-safe sequence a device runs by itself on one frame (DEVELOPERS.md, Decisions). Every
 * firmware must keep to it: the supervisor reads its proofs in the windows between the steps.
 */
export const MAKE_SAFE = {
  /** P is opened once the current is below the routine break limit, at the latest this long after receipt. */
  openPLatestMs: 100,
  /** Output bleeder on, after P was ordered open. */
  bleedOutputAfterPMs: 20,
  /** N ordered open, after P. */
  openNAfterPMs: 200,
  /** Train contactors asked open, after N. */
  openTrainAfterNMs: 200,
  /** Plug bleeder on, after the train contactors. */
  bleedPlugAfterTrainMs: 80,
  /** A bleeder is switched off when its side has been below this … */
  bleederOffV: 10,
  /** … for this long. */
  bleederOffAfterMs: 1000,
} as const;
