/**
 * How warm a conductor or a contact becomes: of first order in the heat made in it, which follows from the recorded
 * current. Where it began, what air it goes back to, how far each watt lifts it and how fast are sought; how fast only
 * where the record is long enough to tell, otherwise it is taken from the rig.
 */
import { Bins } from './bins.js';
import { about, free, type Laid, layCurve } from './curve.js';
import { MOST_UNREAD, missing, sureEnough, TOO_LITTLE_CURRENT, TOO_SHORT, type Told, tells } from './told.js';

export interface HeatingFigures {
  readonly thermalResistanceKPerW: number;
  readonly thermalTimeConstantS: number;
}

export interface HeatingFound {
  readonly resistance: Told;
  readonly timeConstant: Told;
  /** With it the resistance was found; the rig's where the record does not tell it. */
  readonly timeConstantS: number;
}

/** A conductor that was under current an hour before is warmer than the air by about this, one standard deviation. */
const AIR_K = 5;
const LEAST_S = 20;
/** What the current lifts it by, as the rig has it. */
const LEAST_RISE_K = 1;
/** Half a count of the sensor, spread evenly over a second's rows. */
const LEAST_SD_K = 0.01;
/** More left over than this, or than this share of the rise, is no heat of this current alone. */
const MOST_LEFT_K = 0.3;
const MOST_LEFT_SHARE = 0.05;
/** A time constant that is sought beside the rest is told when it is as sure as this, one standard deviation. */
const TIME_SURE = 0.08;
/** And no record tells it that is shorter than this share of it, however quiet its sensor. */
const LEAST_OF_TIME = 0.5;

export class Heating {
  readonly #bins = new Bins();
  #read = 0;
  #unread = 0;
  #startS = Number.NaN;

  /** @param name of the sensor */
  constructor(
    private readonly now: HeatingFigures,
    private readonly name: string,
  ) {}

  /** @param heatW made in it at this moment */
  take(tS: number, temperatureC: number, heatW: number): void {
    if (!Number.isFinite(temperatureC) || !Number.isFinite(heatW)) {
      this.#unread++;
      return;
    }
    this.#read++;
    if (Number.isNaN(this.#startS)) this.#startS = tS;
    this.#bins.add(tS - this.#startS, [temperatureC, heatW]);
  }

  get result(): HeatingFound {
    const { thermalResistanceKPerW: now, thermalTimeConstantS: heldS } = this.now;
    const none = (why: string): HeatingFound => ({
      ...{ resistance: { why }, timeConstant: { why }, timeConstantS: heldS },
    });
    if (this.#unread > MOST_UNREAD * (this.#read + this.#unread)) return none(missing(this.name));
    const bins = this.#bins.list;
    const times = Float64Array.from(bins, ({ tS }) => tS);
    const heat = Float64Array.from(bins, ({ values }) => values[1]!);
    const measured = Float64Array.from(bins, ({ values }) => values[0]!);
    if (!(now * greatest(heat) >= LEAST_RISE_K)) return none(TOO_LITTLE_CURRENT);
    const riseK = now * greatest(response(times, heat, heldS));
    const lastS = times.at(-1) ?? 0;
    if (!(riseK >= LEAST_RISE_K) || lastS < LEAST_S) return none(TOO_SHORT);

    const laid = (timeS: number | null): Laid =>
      layCurve({
        measured,
        unknowns: [
          free(measured[0]!),
          about(0, AIR_K),
          free(now, now / 1000),
          ...(timeS === null ? [{ ...free(heldS, heldS / 1000), low: heldS / 20, high: heldS * 20 }] : []),
        ],
        at: (p) => warmth(times, heat, p, timeS ?? p[3]!),
        leastSd: LEAST_SD_K,
      });
    const most = Math.max(MOST_LEFT_K, MOST_LEFT_SHARE * riseK);
    const both = laid(null);
    const isLong = lastS >= LEAST_OF_TIME * both.at[3]!;
    const timeConstant = isLong
      ? sureEnough(both.at[3]!, both.errors[3]!, TOO_SHORT, TIME_SURE)
      : { why: TOO_SHORT };
    const isTold = tells(timeConstant);
    const chosen = isTold ? both : laid(heldS);
    if (!(chosen.rms <= most)) return none('does not follow the heat of the current');
    return {
      resistance: sureEnough(chosen.at[2]!, chosen.errors[2]!, TOO_SHORT),
      timeConstant,
      timeConstantS: isTold ? timeConstant.value : heldS,
    };
  }
}

const greatest = (of: Float64Array): number => of.reduce((a, b) => Math.max(a, b), 0);

/** Temperature over time: began at p0, in air that is p1 warmer, p2 kelvin for each watt. */
function warmth(times: Float64Array, heat: Float64Array, p: Float64Array, timeS: number): Float64Array {
  const lifted = response(times, heat, timeS);
  return times.map((t, k) => p[0]! + p[1]! * (1 - Math.exp(-t / timeS)) + p[2]! * lifted[k]!);
}

/** Heat as it is felt behind a first-order lag, W: its settled value is the heat itself. */
function response(times: Float64Array, heat: Float64Array, timeS: number): Float64Array {
  const felt = new Float64Array(times.length);
  for (let k = 1; k < times.length; k++) {
    // Straight from the middle of one stretch to the middle of the next, where each was read.
    const between = (heat[k]! + heat[k - 1]!) / 2;
    felt[k] = between + (felt[k - 1]! - between) * Math.exp(-(times[k]! - times[k - 1]!) / timeS);
  }
  return felt;
}
