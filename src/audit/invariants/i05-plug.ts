/** I5: the plug is freed only with poles proven open and residual volts below 60 V, worst case. */
import { type Invariant, lacking, makesByItself, plugV, SAFE_V } from './watch.js';

/** A voltmeter of class 1 and one count, on the unfavourable side; from memory. */
const worstV = (readV: number): number => Math.abs(readV) * 1.01 + 0.1;

const VOLTS = [
  'outputV',
  'plugV',
  'outputPositiveV',
  'outputNegativeV',
  'plugPositiveV',
  'plugNegativeV',
] as const;

const CONTACTS = ['poleP', 'poleN', 'polePre'] as const;

export const I5: Invariant = {
  id: 'I5',
  onJournal:
    'when unlock leaves, proven-dead was given since the last energising order (where a session was started at all) and no trip stands, every charger and train auxiliary reads open, and output and plug read below 60 V pole to pole and each pole to chassis with the voltmeter’s error added',
  onTruth:
    'in `released` with the lock open both charger poles are open and the plug is below 60 V pole to pole and to chassis; at the end no seated plug is free above it that was held before, or that a charger contactor closed on',
  watch: ({ picture, broken, faults }) => {
    let last: { readonly free: boolean; readonly volts: number; readonly tMs: number } | null = null;
    let freed = false;
    let wasSafe = false;
    let wasOurs = false;
    return {
      entry(e) {
        if (!e.sent.some((o) => o.name === 'unlock')) return;
        freed = true;
        const open: Record<string, boolean> = {
          'no trip': picture.tripMs === null,
          'P open': picture.value('contactor', 'closedP') === 0,
          'N open': picture.value('contactor', 'closedN') === 0,
          'train P open': picture.value('train', 'closedP') === 0,
          'train N open': picture.value('train', 'closedN') === 0,
        };
        for (const name of VOLTS) open[`${name} dead`] = worstV(picture.value('meter', name)) < SAFE_V;
        const lacks = lacking(open);
        if (lacks !== null) broken('journal', `unlock left without: ${lacks}`);
      },
      moment() {
        // The order leaves before the journal is told of the event that gave it.
        if (freed && picture.started && !picture.provenDead)
          broken('journal', 'unlock left without: proven-dead');
        freed = false;
      },
      row(row) {
        const volts = plugV(row);
        const free = row.get('locked') === 0;
        // A lock that would not take hold leaves the plug as free as it was found, and a live train is refused.
        wasOurs ||= !free || CONTACTS.some((contact) => row.get(contact) === 1);
        const lacks = lacking({
          'P open': row.get('poleP') === 0,
          'N open': row.get('poleN') === 0,
          'plug below 60 V': volts <= SAFE_V,
        });
        const released = picture.phase === 'released';
        // What was safe when the freeing was ordered, and made live unasked before or after the bolt moved, was
        // proven rightly.
        if (released && lacks === null) wasSafe = true;
        const excused = wasSafe && makesByItself(faults);
        last = { free: free && row.get('seated') === 1 && !excused, volts, tMs: row.tMs };
        if (!(free && released) || excused) return;
        if (lacks !== null) broken('truth', `the plug is free without: ${lacks}`);
      },
      end() {
        // A lock that let go by itself was not opened by anybody.
        if (last?.free && wasOurs && !(last.volts <= SAFE_V) && !faults.has('latch-slips'))
          broken('truth', `the plug is free at ${last.volts.toFixed(0)} V`, last.tMs);
      },
    };
  },
};
