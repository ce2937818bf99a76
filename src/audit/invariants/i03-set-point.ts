/**
 * I3: the set-point is never above the least limit, nor steeper than the governed slope. The limits held against
 * here are those that can be read from a journal without the governor: ratings, power, the authority in force, what
 * the joined rafts allow together. Each is at or above the least limit, so a set-point above one of them is wrong.
 */

import type { Rig } from '../../rig/schema.js';
import type { Picture } from '../picture.js';
import type { Invariant, Row } from './watch.js';

/** One count of a set-point, twice. */
const COUNTS_A = 0.02;
/** A slope is taken over this, so that steps of the slope itself do not count. */
const WINDOW_MS = 500;
/** The volts of the bus move while a slope is measured. */
const SLOPE_MARGIN = 1.02;

/** Everything that bounds the current, by name, A. */
function boundsA(rig: Rig, picture: Picture): Record<string, number> {
  const trainV = picture.value('train', 'trainV');
  const joined = picture.joined();
  const bounds: Record<string, number> = {
    'connection rating': rig.connection.ratedCurrentA,
    'converter rating': rig.converter.maxCurrentA,
    'converter power': rig.converter.maxPowerW / trainV,
    'live authority': picture.nowMs <= picture.authority.untilMs ? picture.authority.ceilingA : 0,
  };
  // With a generator on the bus the rafts are not all there is.
  if (rig.battery.rafts.every((r) => r.kind === 'battery'))
    bounds['what the rafts allow'] = joined.reduce((sum, r) => sum + picture.value(r, 'allowedA'), 0);
  return bounds;
}

/** Steepest rise of the true set-point in force over the window, A/s. */
export class Steepest {
  readonly #rows: { readonly tMs: number; readonly currentA: number }[] = [];
  aPerS = 0;

  /** @returns the slope up to this row */
  take(tMs: number, currentA: number): number {
    this.#rows.push({ tMs, currentA });
    while (this.#rows.length > 1 && this.#rows[1]!.tMs <= tMs - WINDOW_MS) this.#rows.shift();
    const first = this.#rows[0]!;
    const spanMs = tMs - first.tMs;
    const slope = spanMs >= WINDOW_MS ? ((currentA - first.currentA) * 1000) / spanMs : 0;
    this.aPerS = Math.max(this.aPerS, slope);
    return slope;
  }
}

/** Most the true set-point may rise: the rig's ramp, or the matching current coming on within the window. */
export const mostAPerS = (rig: Rig): number =>
  Math.max(rig.ramp.upAPerS * 1.001, (rig.converter.matchCurrentA * 1000) / WINDOW_MS);

/** A converter with one of these does not hold the set-point it is given. */
const DISOBEYS = ['converter-steps', 'converter-overshoots', 'converter-wont-stop'];

export const I3: Invariant = {
  id: 'I3',
  onJournal:
    'a set-point above the matching current is at most the ratings, the converter’s power, the authority in force and what the joined rafts allow together, and rises over the one before by no more than the governed slope times the time between',
  onTruth:
    'the set-point in force in a sound converter stays within the ratings and rises over half a second no steeper than the ramp',
  watch: ({ rig, picture, faults, broken }) => {
    const { matchCurrentA } = rig.converter;
    const ratedA = Math.min(rig.connection.ratedCurrentA, rig.converter.maxCurrentA);
    const steepest = new Steepest();
    const most = mostAPerS(rig);
    /** When set-points were decided: the last moment, and the one before it. */
    let decidedMs: number | null = null;
    let beforeMs: number | null = null;
    return {
      entry(e) {
        for (const { name, args } of e.sent) {
          if (name !== 'setpoint') continue;
          const currentA = args.currentA ?? Number.NaN;
          const nowMs = e.tMs;
          // One said again for want of an answer comes in the moment of the next: it was decided earlier.
          if (decidedMs !== nowMs) {
            beforeMs = decidedMs;
            decidedMs = nowMs;
          }
          const spanS = (nowMs - (beforeMs ?? nowMs)) / 1000;
          if (!(currentA >= 0)) broken('journal', `a set-point of ${currentA} A`);
          if (currentA <= matchCurrentA || currentA <= picture.setpointA) {
            // A falling set-point after a trip may outlive its authority; the device withdraws it by itself.
            if (picture.tripMs !== null || currentA <= matchCurrentA) continue;
          }
          for (const [bound, limitA] of Object.entries(boundsA(rig, picture)))
            if (!(currentA <= limitA + COUNTS_A))
              broken('journal', `a set-point of ${currentA} A over ${bound}, ${limitA.toFixed(2)} A`);
          const trainV = picture.value('train', 'trainV');
          const slope = Math.min(rig.ramp.upAPerS, (rig.supply.slopeKwPerS * 1000) / trainV);
          const riseA = currentA - picture.setpointA;
          if (!(riseA <= slope * SLOPE_MARGIN * spanS + COUNTS_A))
            broken('journal', `the set-point rises by ${riseA.toFixed(2)} A in ${spanS} s`);
        }
      },
      row(row: Row) {
        if (DISOBEYS.some((fault) => faults.has(fault))) return;
        const currentA = row.get('setpointA');
        if (!(currentA <= ratedA + COUNTS_A)) broken('truth', `${currentA.toFixed(2)} A over the rating`);
        const slope = steepest.take(row.tMs, currentA);
        if (!(slope <= most)) broken('truth', `the set-point in force rises by ${slope.toFixed(1)} A/s`);
      },
    };
  },
};
