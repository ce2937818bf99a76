/** I6: after a trip nothing restarts by itself, in this process or the next. */
import { energises } from '../picture.js';
import { type Invariant, makesByItself } from './watch.js';

const POLES = ['poleP', 'poleN', 'polePre', 'trainPoleP', 'trainPoleN'] as const;
/** A pole ordered just before a trip still makes within its own time. */
const MARGIN_MS = 100;

export const I6: Invariant = {
  id: 'I6',
  onJournal:
    'from a trip to an acknowledgement no energising order leaves, no set-point rises, the latch stands in every state, and the end is not `released`; nothing starts while the machine or a device holds a latch',
  onTruth:
    'after a trip no contactor makes once its own closing time has passed, and the set-point in force does not rise',
  watch: ({ rig, picture, faults, broken }) => {
    let before: readonly number[] | null = null;
    let setpointA = 0;
    const deviceLatched = (): boolean =>
      rig.link.ports.some((_, i) => picture.value(`device${i}`, 'latched') === 1);
    return {
      entry(e) {
        const tripped = picture.tripMs !== null;
        if (e.k === 'event' && e.b === 'start' && (picture.latched || deviceLatched()))
          broken('journal', 'started while a latch stands');
        if (e.k === 'state' && tripped && picture.started && e.b.flags.latched !== true)
          broken('journal', 'the trip is not latched');
        if (e.k === 'end' && tripped && e.b.outcome === 'released')
          broken('journal', 'released after a trip');
        if (!tripped) return;
        for (const order of e.sent) {
          if (energises(order)) broken('journal', `${order.name} left after the trip`);
          if (order.name === 'setpoint' && !((order.args.currentA ?? Number.NaN) <= picture.setpointA))
            broken('journal', `a set-point of ${order.args.currentA} A after the trip, above the one before`);
        }
      },
      row(row) {
        const closed = POLES.map((pole) => row.get(pole));
        const nowA = row.get('setpointA');
        const sinceMs = picture.tripMs === null ? Number.NaN : row.tMs - picture.tripMs;
        if (before !== null && sinceMs > rig.contactors.closeMs + MARGIN_MS) {
          for (const [i, pole] of POLES.entries())
            if (!makesByItself(faults) && before[i] === 0 && closed[i] === 1)
              broken('truth', `${pole} makes after the trip`);
          if (nowA > setpointA + 0.1 && ![...faults].some((f) => f.startsWith('converter-')))
            broken('truth', `the set-point in force rises to ${nowA.toFixed(1)} A after the trip`);
        }
        before = closed;
        setpointA = nowA;
      },
    };
  },
};
