/**
 * How the supply gives way under load: the frequency and the volts of a set or a feed over its power, once they have
 * settled; the volts of a store over its current, while its charge falls.
 */
import type { Values } from '../audit/line-reader.js';
import type { Rig } from '../rig/schema.js';
import { type Bin, Bins } from './bins.js';
import { about, free, type Laid, layCurve, type Unknown } from './curve.js';
import { MOST_UNREAD, missing, sureEnough, TOO_LITTLE_CURRENT, TOO_SHORT, type Told } from './told.js';

export interface SupplyFound {
  /** Engine set: fall of the frequency from no load to rated power, % of nominal. */
  readonly droopPercent: Told;
  /** Set or feed: the same of the volts. */
  readonly voltageDropPercent: Told;
  /** Store. */
  readonly internalOhm: Told;
}

const NOT_OF_THIS_KIND = 'not of this kind of supply';
/** A governor has settled this long after the load has. */
const SETTLED_S = 5;
/** Of the rated power; a load that creeps faster still bends the volts by what a regulator lags behind it. */
const SETTLED_SHARE = 0.003;
const LEAST_SETTLED = 10;
/** Of the rated power, between the least and the greatest load. */
const LEAST_POWER_SHARE = 0.1;
/** A drop as small as this, % of nominal, is none to be told as a share of itself. */
const SURE_PERCENT = 0.25;
/** By which a store's volts fall as it is emptied, V for each kWh, as a share of nominal; anything a store may do. */
const FALL_SHARE_PER_KWH = 1e-3;
const LEAST_SD = { hz: 0.002, volts: 0.02 };

export class SupplyResponse {
  readonly #figures: Rig['supply'];
  readonly #bins = new Bins();
  #sample = Number.NaN;
  #read = 0;
  #unread = 0;
  #lastS = Number.NaN;
  #drawnKwh = 0;

  constructor(rig: Rig) {
    this.#figures = rig.supply;
  }

  take(tS: number, value: Values): void {
    if (value.sample === this.#sample) return;
    this.#sample = value.sample ?? Number.NaN;
    const { powerW = Number.NaN, voltageV = Number.NaN, frequencyHz = Number.NaN } = value;
    const isSet = this.#figures.kind === 'engine-set';
    if (![powerW, voltageV, isSet ? frequencyHz : 0].every(Number.isFinite) || !(voltageV > 0)) {
      this.#unread++;
      return;
    }
    this.#read++;
    if (tS > this.#lastS) this.#drawnKwh += (powerW * (tS - this.#lastS)) / 3.6e6;
    this.#lastS = tS;
    // An open breaker leaves nothing to see.
    if (value.breakerClosed !== 1) return;
    this.#bins.add(tS, [powerW, voltageV, isSet ? frequencyHz : 0, powerW / voltageV, this.#drawnKwh]);
  }

  get result(): SupplyFound {
    const { kind, maxPowerW } = this.#figures;
    const bins = this.#bins.list;
    const none = { why: NOT_OF_THIS_KIND };
    const all = (told: Told): SupplyFound => ({
      droopPercent: kind === 'engine-set' ? told : none,
      voltageDropPercent: kind === 'store' ? none : told,
      internalOhm: kind === 'store' ? told : none,
    });
    if (this.#unread > MOST_UNREAD * (this.#read + this.#unread)) return all({ why: missing('supply') });
    const spanW = (of: readonly Bin[]): number => {
      const powers = of.map(({ values }) => values[0]!);
      return Math.max(...powers) - Math.min(...powers);
    };
    if (bins.length < LEAST_SETTLED) return all({ why: TOO_SHORT });
    if (!(spanW(bins) >= LEAST_POWER_SHARE * maxPowerW)) return all({ why: TOO_LITTLE_CURRENT });
    if (kind === 'store') return { ...all(none), internalOhm: this.#internal(bins) };
    const settled = settledBins(bins, SETTLED_SHARE * maxPowerW);
    if (settled.length < LEAST_SETTLED || !(spanW(settled) >= LEAST_POWER_SHARE * maxPowerW))
      return all({ why: TOO_SHORT });
    return {
      droopPercent: kind === 'engine-set' ? this.#droop(settled) : none,
      voltageDropPercent: this.#drop(settled, 1, this.#figures.nominalVoltageV, LEAST_SD.volts),
      internalOhm: none,
    };
  }

  #droop(settled: readonly Bin[]): Told {
    return this.#drop(settled, 2, this.#figures.nominalFrequencyHz ?? 50, LEAST_SD.hz);
  }

  /** Fall of a reading from no load to rated power, % of its nominal value. */
  #drop(settled: readonly Bin[], column: number, nominal: number, leastSd: number): Told {
    const { maxPowerW } = this.#figures;
    const laid = line(settled, column, [(b) => -b.values[0]! / maxPowerW], [free(0, nominal / 1e4)], leastSd);
    const percent = (x: number): number => (100 * x) / nominal;
    const [value, error] = [percent(laid.at[1]!), percent(laid.errors[1]!)];
    // Nothing at all is a figure as well.
    return error <= SURE_PERCENT ? { value, error } : { why: TOO_LITTLE_CURRENT };
  }

  #internal(bins: readonly Bin[]): Told {
    const { nominalVoltageV } = this.#figures;
    const laid = line(
      bins,
      1,
      [(b) => -b.values[3]!, (b) => -b.values[4]!],
      [free(0, 1e-5), about(0, FALL_SHARE_PER_KWH * nominalVoltageV)],
      LEAST_SD.volts,
    );
    return sureEnough(laid.at[1]!, laid.errors[1]!, TOO_LITTLE_CURRENT);
  }
}

/** A level, and a slope for each of what it depends on. */
function line(
  bins: readonly Bin[],
  column: number,
  on: readonly ((bin: Bin) => number)[],
  slopes: readonly Unknown[],
  leastSd: number,
): Laid {
  const measured = Float64Array.from(bins, ({ values }) => values[column]!);
  const columns = on.map((of) => bins.map(of));
  return layCurve({
    measured,
    unknowns: [free(measured[0]!), ...slopes],
    at: (p) => measured.map((_, k) => columns.reduce((sum, of, i) => sum + p[i + 1]! * of[k]!, p[0]!)),
    leastSd,
  });
}

/** Those before which the load has stood for a while; before its record a charger stands without load. */
const settledBins = (bins: readonly Bin[], withinW: number): Bin[] =>
  bins.filter(({ tS, values }, k) => {
    const near = (j: number): boolean => Math.abs(bins[j]!.values[0]! - values[0]!) <= withinW;
    if (k > 0 && !near(k - 1)) return false;
    for (let j = k - 2; j >= 0 && tS - bins[j]!.tS <= SETTLED_S; j--) if (!near(j)) return false;
    return true;
  });
