/** I2: current authority only with both poles confirmed closed, presence and isolation unbroken since. */
import { type Invariant, lacking, Standing } from './watch.js';

/** Below this a current is noise. */
const NOISE_A = 0.1;

export const I2: Invariant = {
  id: 'I2',
  onJournal:
    'when an authority or a set-point above the matching current leaves, closed-p, closed-n, poles-follow, presence and isolation-joined stand since the last start without a trip, and both auxiliaries read closed; a set-point that does not rise may leave at any time',
  onTruth:
    'the set-point in force in the converter is above the matching current with a charger pole open for no longer than the over-current protection may take',
  watch: ({ rig, picture, faults, broken }) => {
    const { matchCurrentA } = rig.converter;
    const parted = new Standing(rig.tripTimes.overCurrentMs + rig.link.deviceWatchdogMs);
    return {
      entry(e) {
        for (const { name, args } of e.sent) {
          const authority = name === 'authority' && !(args.ceilingA === 0);
          const current = name === 'setpoint' && !((args.currentA ?? Number.NaN) <= matchCurrentA);
          if (!authority && !current) continue;
          if (current && (args.currentA ?? Number.NaN) <= picture.setpointA) continue;
          const has = (event: string): boolean => picture.events.has(event);
          const lacks = lacking({
            'closed-p': has('closed-p'),
            'closed-n': has('closed-n'),
            'poles-follow': has('poles-follow'),
            presence: has('presence'),
            'isolation-joined': has('isolation-joined'),
            'no trip since': picture.tripMs === null,
            'auxiliary of P': picture.value('contactor', 'closedP') === 1,
            'auxiliary of N': picture.value('contactor', 'closedN') === 1,
          });
          if (lacks !== null) broken('journal', `${name} left without: ${lacks}`);
        }
      },
      row(row) {
        const open = row.get('poleP') === 0 || row.get('poleN') === 0;
        const delivers = row.get('setpointA') > matchCurrentA + NOISE_A;
        // A converter that makes its own set-point keeps it whatever it is told.
        const own = faults.has('converter-wont-stop') || faults.has('converter-steps');
        if (parted.take(open && delivers && !own, row.tMs))
          broken('truth', `a set-point of ${row.get('setpointA').toFixed(1)} A stands with a pole open`);
      },
    };
  },
};
