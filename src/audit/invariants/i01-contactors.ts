/** I1: contactors are ordered closed only after everything before it was proven. Freshness of readings is I7's. */
import { type Invariant, lacking, type Row } from './watch.js';

const CLOSING = ['close-train', 'close-pre', 'close-p', 'close-n'];

export const I1: Invariant = {
  id: 'I1',
  onJournal:
    'before an order to close leaves, the events secured, presence and isolation-dead stand since the last start; for charger contactors also isolation-joined and the match, and the readings of both sides are within the match limit',
  onTruth:
    'when the second charger pole makes, the true voltage across it was within the match limit and the readings’ tolerance, now or when the order left: what comes apart while a contactor is on its way nobody can call back',
  watch: ({ rig, picture, faults, broken }) => {
    /** Supervisor and bench read the same volts with instruments that may differ by this. */
    const acrossV = rig.contactors.matchV + rig.contactors.probeV + rig.plausibility.voltageV;
    /** A contactor’s own time, and a report that had not come when the order left. */
    const onItsWayMs = 1.3 * rig.contactors.closeMs + 2 * rig.link.periodMs;
    let matchedMs = Number.NEGATIVE_INFINITY;
    let before: { readonly acrossV: number; readonly closed: number } | null = null;
    return {
      entry(e) {
        for (const { name } of e.sent) {
          if (!CLOSING.includes(name)) continue;
          const has = (event: string): boolean => picture.events.has(event);
          const proofs: Record<string, boolean> = {
            start: picture.started,
            secured: has('secured'),
            presence: has('presence'),
            'isolation-dead': has('isolation-dead'),
          };
          if (name !== 'close-train') proofs['isolation-joined'] = has('isolation-joined');
          // A converter that cannot match is charged through N and the resistor; P alone closes after it.
          if (name === 'close-p' || (name === 'close-n' && rig.converter.matchesVoltage)) {
            const readV = Math.abs(picture.value('meter', 'outputV') - picture.value('train', 'trainV'));
            proofs.match = has('voltage-matched') || has('pre-charged');
            if (rig.converter.matchesVoltage) proofs['volts within the match limit'] = readV <= acrossV;
          }
          const lacks = lacking(proofs);
          if (lacks !== null) broken('journal', `${name} left without: ${lacks}`);
        }
      },
      row(row: Row) {
        const closed = row.get('poleP') + row.get('poleN');
        const now = {
          closed,
          acrossV: Math.abs(
            row.get('outPositiveV') -
              row.get('outNegativeV') -
              row.get('plugPositiveV') +
              row.get('plugNegativeV'),
          ),
        };
        // A weld or a bounce in the other direction is no order of the supervisor.
        const welded = faults.has('contactor-weld-at-rest');
        const apart = !(row.tMs - matchedMs <= onItsWayMs);
        if (
          before !== null &&
          before.closed < 2 &&
          closed === 2 &&
          !welded &&
          apart &&
          !(before.acrossV <= acrossV)
        )
          broken('truth', `the second pole makes across ${before.acrossV.toFixed(1)} V`);
        if (now.acrossV <= acrossV) matchedMs = row.tMs;
        before = now;
      },
    };
  },
};
