/** I10: from any state, stop, trip or silence ends within a stated bound. */
import type { Rig } from '../../rig/schema.js';
import { isTrip } from '../picture.js';
import { type Invariant, lacking, makesByItself, outputV, plugV, SAFE_V, type Told } from './watch.js';

/** A plug that is dead and still not free after this is stuck; the session is over all the same. */
const FREEING_S = 5;
/** Steps, answers and the last report on top of the phases' own deadlines. */
const MARGIN_S = 2;

/** Longest way to an end, s: the deadlines of the phases that lead there, one after the other. */
export function endBoundS(rig: Rig): { readonly afterTrip: number; readonly afterStop: number } {
  const { times, connection, ramp } = rig;
  const rampDownS = connection.ratedCurrentA / ramp.downAPerS + 1;
  const afterTrip = rampDownS + times.makingSafeS + MARGIN_S;
  const down = times.rampingDownS + times.openingS + times.partingS + times.bleedingS + FREEING_S;
  return { afterTrip, afterStop: down + afterTrip };
}

export const I10: Invariant = {
  id: 'I10',
  onJournal:
    'after a stop, an end or a trip the `end` record follows within the sum of the deadlines of the phases that lead there; a session that was started has one, in released, safe or not-proven-dead',
  onTruth:
    'when the session ends released or proven dead, both charger poles and the pre-charge contactor are open, and output and plug are below 60 V',
  watch: ({ rig, picture, faults, broken }) => {
    const bound = endBoundS(rig);
    let dueMs = Number.POSITIVE_INFINITY;
    let ended: Told | null = null;
    let wereSafe = false;
    let last: { readonly tMs: number; readonly lacks: string | null } | null = null;
    return {
      entry(e) {
        if (e.k === 'event') {
          if (isTrip(e.b)) dueMs = Math.min(dueMs, e.tMs + 1000 * bound.afterTrip);
          else if (e.b === 'stop' || e.b === 'end') dueMs = Math.min(dueMs, e.tMs + 1000 * bound.afterStop);
        }
        if (e.k !== 'end') return;
        ended = e.b as Told;
        const panic = e.b.trip?.code === 'internal-fault';
        if (picture.started && !picture.ended && !panic) broken('journal', `ends in ${picture.phase}`);
        // The trip that ends a stop has its own bound, from its own moment.
        if (!(e.tMs <= dueMs)) broken('journal', `ends ${((e.tMs - dueMs) / 1000).toFixed(1)} s too late`);
      },
      row(row) {
        const lacks = lacking({
          'P open': row.get('poleP') === 0,
          'N open': row.get('poleN') === 0,
          'pre-charge open': row.get('polePre') === 0,
          'output dead': outputV(row) <= SAFE_V,
          'plug dead': plugV(row) <= SAFE_V,
        });
        // Proven rightly, and made live unasked afterwards: that was no word of the session.
        wereSafe = lacks === null || (wereSafe && picture.provenDead);
        last = { tMs: row.tMs, lacks: wereSafe && makesByItself(faults) ? null : lacks };
      },
      end(told) {
        // A journal on a full disk cannot hold its end; what was told to people must be true all the same.
        if (ended === null && picture.started && told === null)
          broken('journal', 'a session was started and has no end');
        const claim = told ?? ended;
        // A refusal claims only that nothing was done; what is live or closed unasked is one more reason for it.
        const claims = claim?.outcome === 'refused' ? !makesByItself(faults) : claim?.endState.provenDead;
        if (claims !== true) return;
        if (last !== null && last.lacks !== null) broken('truth', `ended without: ${last.lacks}`, last.tMs);
      },
    };
  },
};
