/**
 * The figures of a session that drift over months, read from the lines in its journal alone, without deciding
 * anything anew: the pilot loop while presence is proven, and what the isolation proof found on each side.
 *
 * Windows and settling are judged by the same pure functions as in the checks, so the isolation is to the last digit
 * the figure on which the proof was given.
 */
import type { Entry } from '../audit/entry.js';
import type { Picture } from '../audit/picture.js';
import { provenOhm, settleRule } from '../checks/isolation-dead.js';
import { loopFigures } from '../checks/loop-figures.js';
import { addPair, type Settling, settledPair } from '../checks/settle.js';
import { portOf } from '../checks/where.js';
import { ISOLATION_POINT } from '../rig/roles.js';

/** null: the session did not come so far, or the rig has no such thing. */
export interface SessionFigures {
  /** Mean over the genuine windows of the proof. */
  readonly loopSeriesOhm: number | null;
  /** Leakage across the pilot loop; 0 when none can be seen. */
  readonly loopLeakageUs: number | null;
  readonly isolationChargerOhm: number | null;
  readonly isolationCableOhm: number | null;
}

type Side = 'charger' | 'cable';
const SIDES: readonly Side[] = ['charger', 'cable'];
const US_PER_S = 1e6;

const mean = (values: readonly number[]): number | null =>
  values.length === 0 ? null : values.reduce((sum, v) => sum + v, 0) / values.length;

export class FigureReader {
  readonly #series: number[] = [];
  readonly #leakageUs: number[] = [];
  readonly #foundOhm: Partial<Record<Side, number>> = {};
  #window: Settling = [];
  #loopSample = Number.NaN;
  #isolationSample = Number.NaN;
  #wasOn = false;
  #presence = false;
  #isolation = false;

  /** @param picture what stood before this record */
  take(entry: Entry, picture: Picture): void {
    if (entry.k === 'event') {
      // Only what a proof was given on is a figure of the rig: a loop driven over is told by its trip.
      if (entry.b === 'presence') this.#presence = true;
      if (entry.b === 'isolation-dead') this.#isolation = true;
      return;
    }
    if (entry.line?.verb !== 'report') return;
    if (picture.phase === 'proving-presence' && !this.#presence) this.#loop(entry, picture);
    if (picture.phase === 'checking-isolation' && !this.#isolation) this.#side(entry, picture);
  }

  get result(): SessionFigures {
    const dead = this.#isolation;
    return {
      loopSeriesOhm: this.#presence ? mean(this.#series) : null,
      loopLeakageUs: this.#presence ? mean(this.#leakageUs) : null,
      isolationChargerOhm: (dead ? this.#foundOhm.charger : null) ?? null,
      isolationCableOhm: (dead ? this.#foundOhm.cable : null) ?? null,
    };
  }

  #loop({ line }: Entry, { rig }: Picture): void {
    const loop = line?.roles.get('loop');
    if (loop === undefined || rig.pilot === undefined || loop.sample === this.#loopSample) return;
    this.#loopSample = loop.sample ?? Number.NaN;
    const isOn = loop.pilotOn === 1;
    // The window that straddles the switching lies.
    const straddles = isOn && !this.#wasOn;
    this.#wasOn = isOn;
    if (!isOn || straddles) return;
    const { verdict, seriesOhm, shuntOhm } = loopFigures(
      {
        meanA: loop.meanA ?? Number.NaN,
        rmsA: loop.rmsA ?? Number.NaN,
        peakPositiveA: loop.peakPositiveA ?? Number.NaN,
        peakNegativeA: loop.peakNegativeA ?? Number.NaN,
      },
      rig.pilot,
    );
    if (verdict !== 'genuine') return;
    this.#series.push(seriesOhm);
    this.#leakageUs.push(US_PER_S / shuntOhm);
  }

  #side({ line, tMs, port }: Entry, { rig }: Picture): void {
    const read = line?.roles.get('isolation');
    const side = SIDES.find((s) => this.#foundOhm[s] === undefined);
    if (read === undefined || side === undefined || read.sample === this.#isolationSample) return;
    this.#isolationSample = read.sample ?? Number.NaN;
    if (read.point !== ISOLATION_POINT[side] || read.injecting !== 1) {
      this.#window = [];
      return;
    }
    const own = portOf(rig, 'isolation') === port ? line?.roles.get('device')?.clockMs : undefined;
    this.#window = addPair(this.#window, {
      tMs: own !== undefined && Number.isFinite(own) ? own : tMs,
      positiveV: read.positiveV ?? Number.NaN,
      negativeV: read.negativeV ?? Number.NaN,
    });
    const settled = settledPair(this.#window, settleRule(rig));
    const ohm = settled === null ? Number.NaN : provenOhm(settled, rig, side);
    if (Number.isNaN(ohm)) return;
    this.#foundOhm[side] = ohm;
    this.#window = [];
  }
}
