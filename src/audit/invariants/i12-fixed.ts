/** I12: nothing above 60 V on plug or shoes unless seated, locked, bonded and immobilised; loss of any trips. */

import type { Rig } from '../../rig/schema.js';
import { energises, type Picture } from '../picture.js';
import { type Invariant, lacking, plugV, type Row, SAFE_V, Standing } from './watch.js';

/** What is not fixed as read; null when everything is. */
function loose(rig: Rig, picture: Picture): string | null {
  const is = (role: string, field: string): boolean => picture.value(role, field) === 1;
  const fixed: Record<string, boolean> = {
    seated: is('latch', 'seated'),
    locked: is('latch', 'locked'),
    'at the stand': is('berth', 'atStand'),
    'brake on': is('berth', 'brakeOn'),
    'traction inhibited': is('berth', 'tractionInhibited'),
    bonded: picture.value('berth', 'bondOhm') <= rig.berth.maxBondOhm,
  };
  if (rig.connection.kind === 'shoes') {
    fixed['shoe P'] = is('latch', 'senseP');
    fixed['shoe N'] = is('latch', 'senseN');
    fixed['plates covered'] = is('latch', 'plateCovered');
  }
  return lacking(fixed);
}

const trulyLoose = (rig: Rig, row: Row): string | null =>
  lacking({
    seated: row.get('seated') === 1,
    locked: row.get('locked') === 1,
    bonded: row.get('bondOhm') <= rig.berth.maxBondOhm,
    immobilised: row.get('immobile') === 1,
  });

/** With these a train contactor stays closed although it is asked open. */
const STAY_CLOSED = ['train-contactor-weld', 'train-aux-says-open'];

/**
 * The train makes its plug live by itself. A contactor that will not open ties it to the train's bus, and no order
 * parts them: make-safe pulls both towards chassis, and when it lets go the plug rises again with the bus. That is
 * ours to say (nothing may be called dead, I10), not ours to prevent. Before make-safe it is no excuse.
 */
const trainsOwn = (row: Row, faults: ReadonlySet<string>, tripped: boolean): boolean =>
  faults.has('train-live') ||
  (tripped &&
    STAY_CLOSED.some((fault) => faults.has(fault)) &&
    (row.get('trainPoleP') === 1 || row.get('trainPoleN') === 1));

export const I12: Invariant = {
  id: 'I12',
  onJournal:
    'when an energising order leaves, plug or shoes read seated and locked, the train at its stand, braked, with traction inhibited and bonded; while the plug reads above 60 V, a loss of any is a trip within the time of the stop chain',
  onTruth:
    'the plug does not rise above 60 V once it has not been seated, locked, bonded and immobilised for the time of the stop chain, but by the train’s own contactor, closed unasked or, after a trip, not opening; a loss of any while it is above 60 V is followed by a trip within the time of the stop chain',
  watch: ({ rig, picture, faults, broken }) => {
    const limitMs = Math.max(rig.tripTimes.stopChainMs, rig.tripTimes.loopMs) + 2 * rig.link.periodMs;
    const read = new Standing(limitMs);
    // A port may fall silent with the loss; then the silence is what is seen.
    const truly = new Standing(limitMs + rig.tripTimes.silenceMs);
    let wasV = 0;
    let looseMs = Number.NaN;
    return {
      entry(e) {
        if (!e.sent.some(energises)) return;
        const lacks = loose(rig, picture);
        if (lacks !== null)
          broken('journal', `${e.sent.map((o) => o.name).join(', ')} left without: ${lacks}`);
      },
      moment() {
        const live = Math.abs(picture.value('meter', 'plugV')) > SAFE_V;
        const lacks = picture.underWay && live ? loose(rig, picture) : null;
        if (read.take(lacks !== null, picture.nowMs))
          broken('journal', `the plug is live without: ${lacks}, and nothing trips`);
      },
      row(row) {
        const volts = plugV(row);
        const lacks = trulyLoose(rig, row);
        if (lacks === null) looseMs = Number.NaN;
        else if (Number.isNaN(looseMs)) looseMs = row.tMs;
        // A contactor may be on its way when something comes loose. What the train does unasked is no order of ours.
        const ours = !trainsOwn(row, faults, picture.tripMs !== null) && row.tMs - looseMs > limitMs;
        if (ours && wasV <= SAFE_V && volts > SAFE_V && lacks !== null)
          broken('truth', `the plug rises to ${volts.toFixed(0)} V without: ${lacks}`);
        wasV = volts;
        if (truly.take(volts > SAFE_V && lacks !== null && picture.underWay, row.tMs))
          broken('truth', `the plug stands at ${volts.toFixed(0)} V without: ${lacks}, and nothing trips`);
      },
    };
  },
};
