/** I4: trip-0 orders make-safe, trip-1 the ramp-down, in the detecting step. */
import { CATALOGUE, type Code } from '../../checks/catalogue.js';
import { isOverdue } from '../picture.js';
import { type Invariant, Standing } from './watch.js';

/** The device switches off at once; its current loop and the wire take less than this. */
const SETTLES_MS = 200;
const DISOBEYS = ['converter-wont-stop', 'converter-steps'];

export const I4: Invariant = {
  id: 'I4',
  onJournal:
    'a finding that trips, while a session is under way, is given to the machine in the same step; the step that gives trip-0 (or an overdue phase) orders make-safe, the step that gives trip-1 orders make-safe or enters the tripped ramp-down, after which no set-point rises; a code that only observes, as the setup says, trips when its time is over',
  onTruth:
    'after make-safe was ordered no set-point stands in a sound converter for longer than its watchdog and its own time',
  watch: ({ rig, picture, faults, broken }) => {
    let found: { readonly code: Code; readonly effect: 'trip-0' | 'trip-1' } | null = null;
    let given: string | null = null;
    let madeSafe = false;
    /** Codes that only observe, since when. */
    const observedMs = new Map<string, number>();
    const standing = new Standing(rig.link.deviceWatchdogMs + SETTLES_MS);
    return {
      entry(e) {
        const observed = e.k === 'finding' && picture.observing.codes.includes(e.b.code);
        if (observed && e.b.failing === true) observedMs.set(e.b.code, e.tMs);
        else if (observed) observedMs.delete(e.b.code);
        else if (e.k === 'finding' && e.b.failing === true) {
          const code = e.b.code as Code;
          const { effect } = CATALOGUE[code];
          if (effect === 'trip-0' || (effect === 'trip-1' && found === null)) found = { code, effect };
        }
        if (e.k === 'event' && (e.b === 'trip-0' || isOverdue(e.b))) given = e.b;
        else if (e.k === 'event' && e.b === 'trip-1') given ??= e.b;
        if (e.sent.some((o) => o.name === 'make-safe')) madeSafe = true;
      },
      moment() {
        const under = !['parked', 'released', 'safe', 'not-proven-dead'].includes(picture.phaseBefore);
        const safe = madeSafe || picture.makeSafeMs !== null;
        if (found !== null && under && !safe && !(found.effect === 'trip-1' && picture.tripMs !== null))
          broken('journal', `${found.code} is found, and its step gives no ${found.effect}`);
        if (given !== null && !safe && !(given === 'trip-1' && picture.phase === 'tripped-ramping-down'))
          broken('journal', `${given} is given, and its step orders no make-safe`);
        for (const [code, sinceMs] of observedMs)
          if (under && !safe && picture.nowMs - sinceMs > picture.observing.forMs)
            broken(
              'journal',
              `${code} has only been observed for ${(picture.nowMs - sinceMs).toFixed(0)} ms`,
            );
        found = null;
        given = null;
        madeSafe = false;
      },
      row(row) {
        const stands = picture.makeSafeMs !== null && row.get('setpointA') > 0;
        if (standing.take(stands && !DISOBEYS.some((f) => faults.has(f)), row.tMs))
          broken('truth', `${row.get('setpointA').toFixed(1)} A stand in the converter after make-safe`);
      },
    };
  },
};
