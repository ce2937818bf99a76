/** The twelve invariants by name: one sentence each, and whether the machine alone can break them. */

export interface InvariantText {
  readonly sentence: string;
  /** Has a projection on the flags of the machine, explored exhaustively (machines/invariants.ts). */
  readonly onMachine: boolean;
}

const text = (sentence: string, onMachine: boolean): InvariantText => ({ sentence, onMachine });

export const INVARIANTS = {
  I1: text(
    'Contactors are ordered closed only after securing, presence, isolation and match were proven in this session on fresh readings.',
    true,
  ),
  I2: text(
    'Current authority stands only with both poles confirmed closed, presence and isolation unbroken since.',
    true,
  ),
  I3: text(
    'The set-point is never above the least limit then in force, nor steeper than the governed slope.',
    false,
  ),
  I4: text('Trip-0 orders make-safe and trip-1 orders the ramp-down, in the step that detects it.', true),
  I5: text(
    'The plug is freed only with poles proven open and residual volts below 60 V, uncertainty on the unfavourable side.',
    true,
  ),
  I6: text('After a trip nothing restarts by itself, in this process or the next.', true),
  I7: text('A reading older than its deadline, or with a standing sample counter, counts as failing.', false),
  I8: text('Nothing from another session, port generation or sequence has effect.', false),
  I9: text("No charge flows outside the battery's window.", false),
  I10: text(
    'From any state, stop, trip or silence ends in released, safe or not-proven-dead within a stated bound.',
    true,
  ),
  I11: text(
    'Every command is in the journal, and every energising one was durable before it was sent.',
    false,
  ),
  I12: text(
    'Nothing above 60 V is put on plug or shoes unless seated, locked, bonded and immobilised; loss of any trips.',
    true,
  ),
} as const satisfies Record<string, InvariantText>;

export type InvariantId = keyof typeof INVARIANTS;
export const INVARIANT_IDS = Object.keys(INVARIANTS) as readonly InvariantId[];
/** Those the machine alone can break. */
export const MACHINE_INVARIANT_IDS = INVARIANT_IDS.filter((id) => INVARIANTS[id].onMachine);
