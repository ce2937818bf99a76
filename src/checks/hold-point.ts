/**
 * The hold point: before the ramp goes on, isolation and contact drop are looked at again, with measurements
 * that began after the current came to stand there.
 *
 * A check cannot read another check's state, so the live isolation and the contact drop are composed here.
 */
import type { Check, CheckResult, Proof } from './check.js';
import { contactDrop, type DropState, dropIsGood } from './contact-drop.js';
import { isolationLive, type LiveState, measuredOk } from './isolation-live.js';
import { underCurrent } from './phases.js';
import { standsAtHoldPoint } from './tolerance.js';

export interface HoldPointState {
  readonly isolation: LiveState;
  readonly drop: DropState;
  /** Since when the current stands at the hold point; NaN while it does not. */
  readonly arrivedMs: number;
  readonly passed: boolean;
}

export const holdPoint: Check<HoldPointState> = {
  name: 'hold-point',
  codes: [...isolationLive.codes, ...contactDrop.codes],
  initial: (rig) => ({
    isolation: isolationLive.initial(rig),
    drop: contactDrop.initial(rig),
    arrivedMs: Number.NaN,
    passed: false,
  }),
  run(before, seen, rig) {
    const stands = seen.phase === 'ramping' && standsAtHoldPoint(seen, rig);
    const arriving = stands && Number.isNaN(before.arrivedMs);
    // A sample or two out of tolerance do not start the clock again; leaving the set-point does.
    const gone =
      seen.phase !== 'ramping' ||
      !(
        Math.abs(seen.governed.setpointA - Math.min(seen.governed.holdPointA, seen.governed.leastLimitA)) <=
        0.5
      );
    const arrivedMs = arriving ? seen.nowMs : gone ? Number.NaN : before.arrivedMs;
    const isolationBefore = arriving ? { ...before.isolation, wanted: true } : before.isolation;
    const isolation = isolationLive.run(isolationBefore, seen, rig);
    const drop = contactDrop.run(before.drop, seen, rig);
    const last = isolation.state.last;
    const measuredHere = last !== null && last.startedMs >= arrivedMs && measuredOk(last, rig);
    const dwelt = seen.nowMs - arrivedMs >= 1000 * rig.ramp.holdPointS;
    const passedHere = stands && dwelt && measuredHere && dropIsGood(drop.state, true, rig);
    const findings = isolation.findings.concat(drop.findings);
    const passed =
      underCurrent(seen.phase) && (before.passed || passedHere) && !findings.some((found) => found.failing);
    const proofs: readonly Proof[] = isolation.proofs ?? [];
    const result: CheckResult<HoldPointState> = {
      state: { isolation: isolation.state, drop: drop.state, arrivedMs, passed },
      findings,
      proofs: passed ? proofs.concat('hold-point-passed') : proofs,
    };
    return isolation.ask === undefined ? result : { ...result, ask: isolation.ask };
  },
};
