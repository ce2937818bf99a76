/** Presence on a shoes rig: make-last, break-first sense contact of each shoe, and the plate cover. */
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isFresh } from './check.js';
import { flag, stateWatch } from './finding.js';
import { between } from './phases.js';
import { CALM, ripe, type Watch, watch } from './watch.js';

export interface ShoesState {
  readonly p: Watch;
  readonly n: Watch;
  readonly cover: Watch;
  readonly good: number;
  readonly proven: boolean;
}

const PROVING_SAMPLES = 3;
/** A sense contact breaks before the shoe does: two samples still leave the shoe on its plate. */
const SAMPLES = 2;
const INITIAL: ShoesState = { p: CALM, n: CALM, cover: CALM, good: 0, proven: false };

export const presenceShoes: Check<ShoesState> = {
  name: 'presence-shoes',
  codes: ['shoe-off', 'plate-exposed'],
  initial: () => INITIAL,
  run(before, seen, rig: Rig) {
    const latch = seen.latch;
    const speaks =
      between(seen.phase, 'proving-presence', 'parting-train') || seen.phase === 'tripped-ramping-down';
    if (rig.connection.kind !== 'shoes' || latch === null || !speaks) return { state: INITIAL, findings: [] };
    const { senseP, senseN, plateCovered } = latch.value;
    const { isNew } = latch;
    const p = watch(before.p, senseP === 1, isNew, seen.nowMs);
    const n = watch(before.n, senseN === 1, isNew, seen.nowMs);
    const cover = watch(before.cover, plateCovered === 1, isNew, seen.nowMs);
    const allGood = p.bad === 0 && n.bad === 0 && cover.bad === 0;
    const good = isNew ? (allGood ? before.good + 1 : 0) : before.good;
    const failing = ripe(p, SAMPLES) || ripe(n, SAMPLES) || ripe(cover, SAMPLES);
    const proven = !failing && (before.proven || good >= PROVING_SAMPLES);
    const findings: Finding[] = [
      stateWatch('shoe-off', p, SAMPLES, 0, senseP, flag(1, 'latch.senseP'), seen.nowMs, 'P'),
      stateWatch('shoe-off', n, SAMPLES, 0, senseN, flag(1, 'latch.senseN'), seen.nowMs, 'N'),
      stateWatch('plate-exposed', cover, SAMPLES, 0, plateCovered, flag(1, 'latch.plateCovered'), seen.nowMs),
    ];
    // A single bad sample trips nothing, but nothing is made live on it either.
    const stands = proven && allGood && isFresh(latch, rig.link.fastReadingMs);
    return { state: { p, n, cover, good, proven }, findings, proofs: stands ? ['presence'] : [] };
  },
};
