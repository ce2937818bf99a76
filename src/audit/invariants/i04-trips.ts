/** I4: trip-0 orders make-safe, trip-1 the ramp-down, in the detecting step. */
import { CATALOGUE, type Code } from '../../checks/catalogue.js';
import { isOverdue } from '../picture.js';
import { type Invariant, Standing } from './watch.js';

/** The device switches off at once; its current loop and the wire take less than this. */
const SETTLES_MS = 200;
/** A terminal that is gone is noticed within this; until then it takes nothing, and is not yet down on the journal. */
const GOES_DOWN_MS = 1000;
const DISOBEYS = ['converter-wont-stop', 'converter-steps'];

export const I4: Invariant = {
  id: 'I4',
  onJournal:
    'a finding that trips, while a session is under way, is given to the machine in the same step; the step that gives trip-0 (or an overdue phase) orders make-safe, the step that gives trip-1 orders make-safe or enters the tripped ramp-down, after which no set-point rises; a code that only observes, as the setup says, trips when its time is over; what a port did not take was not ordered, unless the journal shows that port down, at the latest within a second',
  onTruth:
    'after make-safe was ordered no set-point stands in a sound converter for longer than its watchdog and its own time',
  watch: ({ rig, picture, faults, broken }) => {
    let found: { readonly code: Code; readonly effect: 'trip-0' | 'trip-1' } | null = null;
    let given: string | null = null;
    let madeSafe = false;
    /** Codes that only observe and stand, and since when any of them was first seen. */
    const observed = new Set<string>();
    let observedMs: number | null = null;
    // A time that is over is noticed by the next step, and one comes at the latest each half deadline.
    const stepMs = Math.min(rig.link.fastReadingMs, rig.link.silenceMs) / 2;
    const down = new Set<string>();
    /** Ports that did not take make-safe: in this step, and for a trip, since when. */
    let refusing: number[] = [];
    const untold = new Map<number, number>();
    const nameOf = (port: number): string => rig.link.ports[port]?.name ?? '';
    const stillUp = (port: number, sinceMs: number): void => {
      untold.delete(port);
      broken('journal', `make-safe was not taken by port ${nameOf(port)}, which is not down`, sinceMs);
    };
    const standing = new Standing(rig.link.deviceWatchdogMs + SETTLES_MS);
    return {
      entry(e) {
        const isObserved = e.k === 'finding' && picture.observing.codes.includes(e.b.code);
        if (isObserved && e.b.failing === true) {
          observed.add(e.b.code);
          observedMs ??= e.tMs;
        } else if (isObserved) observed.delete(e.b.code);
        else if (e.k === 'finding' && e.b.failing === true) {
          const code = e.b.code as Code;
          const { effect } = CATALOGUE[code];
          if (effect === 'trip-0' || (effect === 'trip-1' && found === null)) found = { code, effect };
        }
        if (e.k === 'event' && (e.b === 'trip-0' || isOverdue(e.b))) given = e.b;
        else if (e.k === 'event' && e.b === 'trip-1') given ??= e.b;
        if (e.k === 'port' && typeof e.b.down === 'string') {
          down.add(e.b.port);
          for (const port of untold.keys()) if (nameOf(port) === e.b.port) untold.delete(port);
        }
        if (!e.sent.some((o) => o.name === 'make-safe')) return;
        madeSafe = true;
        if (e.b.sent === false && !down.has(nameOf(e.b.port))) refusing.push(e.b.port);
      },
      moment() {
        const under = !['parked', 'released', 'safe', 'not-proven-dead'].includes(picture.phaseBefore);
        const safe = madeSafe || picture.makeSafeMs !== null;
        if (found !== null && under && !safe && !(found.effect === 'trip-1' && picture.tripMs !== null))
          broken('journal', `${found.code} is found, and its step gives no ${found.effect}`);
        if (given !== null && !safe && !(given === 'trip-1' && picture.phase === 'tripped-ramping-down'))
          broken('journal', `${given} is given, and its step orders no make-safe`);
        const lookedOnMs = picture.nowMs - (observedMs ?? picture.nowMs);
        if (under && !safe && picture.tripMs === null && !(lookedOnMs <= picture.observing.forMs + stepMs))
          for (const code of observed)
            broken('journal', `${code} has only been observed for ${lookedOnMs.toFixed(0)} ms`);
        if ((found !== null && under) || given !== null)
          for (const port of refusing) untold.set(port, picture.nowMs);
        for (const [port, sinceMs] of untold)
          if (picture.nowMs - sinceMs > GOES_DOWN_MS) stillUp(port, sinceMs);
        refusing = [];
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
