/** I7: a reading older than its deadline, or with a standing sample counter, counts as failing. */
import type { Rig } from '../../rig/schema.js';
import { energises, type Picture } from '../picture.js';
import type { Invariant } from './watch.js';

const FAST = ['converter', 'meter', 'contactor', 'latch', 'berth', 'stop'];
const SLOW = ['isolation', 'bleeder', 'train', 'supply'];

/** From then on no current flows into a raft, and nothing rests on what one says. */
const CURRENT_IS_DOWN = ['opening', 'parting-train', 'bleeding', 'released'];

/** Every role of this rig with its deadline. Of the rafts those on the bus count, until the current is down. */
function deadlines(rig: Rig, picture: Picture): [role: string, limitMs: number][] {
  const { fastReadingMs, slowReadingMs } = rig.link;
  const fast = rig.pilot === undefined ? FAST : [...FAST, 'loop'];
  const rafts = CURRENT_IS_DOWN.includes(picture.phase) ? [] : picture.joined();
  return [
    ...fast.map((role): [string, number] => [role, fastReadingMs]),
    ...[...SLOW, ...rafts].map((role): [string, number] => [role, slowReadingMs]),
  ];
}

export const I7: Invariant = {
  id: 'I7',
  onJournal:
    'no energising order leaves while a reading is older than its deadline, its age counted from the last move of its sample counter; and no session goes on with such a reading past the next look at the ages without a trip. Rafts count while they are on the bus and current may flow',
  onTruth: null,
  watch: ({ rig, picture, broken }) => {
    // Ages are looked at at least every half deadline, and a report may be on its way.
    const graceMs = Math.min(rig.link.fastReadingMs, rig.link.silenceMs) / 2 + 2 * rig.link.periodMs;
    const told = new Set<string>();
    return {
      entry(e) {
        if (!e.sent.some(energises)) return;
        for (const [role, limitMs] of deadlines(rig, picture)) {
          const ageMs = picture.ageMs(role);
          if (!(ageMs <= limitMs))
            broken(
              'journal',
              `${e.sent.map((o) => o.name).join(', ')} left on a ${role} reading of ${ageMs.toFixed(0)} ms`,
            );
        }
      },
      moment() {
        if (!picture.underWay) return;
        for (const [role, limitMs] of deadlines(rig, picture)) {
          const ageMs = picture.ageMs(role);
          if (ageMs <= limitMs + graceMs) told.delete(role);
          else if (!told.has(role)) {
            told.add(role);
            broken('journal', `the session goes on with a ${role} reading of ${ageMs.toFixed(0)} ms`);
          }
        }
      },
    };
  },
};
