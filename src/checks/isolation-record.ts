/**
 * A recording of pole voltages made ready for the known-resistor method: one sign for both poles, stretches of
 * one switch position, neighbours put together where the curve is long, and what noise the voltmeters have.
 */

/** Where the known resistor is. */
export type ResistorAt = 'none' | 'pos' | 'neg';
export const RESISTOR_POSITIONS = ['none', 'pos', 'neg'] as const satisfies readonly ResistorAt[];

export interface PoleRecording {
  /** Rising. */
  readonly timeS: ArrayLike<number>;
  /** Positive pole against chassis. */
  readonly positiveV: ArrayLike<number>;
  /** Negative pole against chassis, or chassis against it: told from the record, see `prepare`. */
  readonly negativeV: ArrayLike<number>;
  readonly resistor: readonly ResistorAt[];
}

/** A run of rows with the resistor in one place. */
export interface Stretch {
  readonly at: ResistorAt;
  readonly from: number;
  readonly to: number;
}

/** Points are means over neighbouring rows of one stretch. */
export interface Prepared {
  readonly timeS: Float64Array;
  readonly positiveV: Float64Array;
  /** Chassis against the negative pole: on a sound network both are positive. */
  readonly negativeV: Float64Array;
  /** Pole to pole, smoothed: what drives the network. */
  readonly bothV: Float64Array;
  readonly rows: Float64Array;
  readonly stretches: readonly Stretch[];
  /** Greatest and usual pole-to-pole volts. */
  readonly usualV: number;
  /** Whether the pole-to-pole volts move enough to tell the two capacitances apart. */
  readonly moves: boolean;
  /** Step of the voltmeters' figures, V; 0 when none shows. */
  readonly resolutionV: number;
  /** What the recorded negative pole's volts were multiplied by. */
  readonly negativeSign: 1 | -1;
}

/** A point may be as long as this share of its time since the switching: no curve bends within that. */
const POINT_SHARE = 0.004;
/** Below this many rows every row is its own point. */
const FEW_ROWS = 3000;
const MOVING_SHARE = 0.02;
/** Rows at most looked at for a figure about the whole record. */
const LOOK_ROWS = 5000;

const every = (values: ArrayLike<number>): number[] => {
  const step = Math.max(1, Math.ceil(values.length / LOOK_ROWS));
  return Array.from({ length: Math.ceil(values.length / step) }, (_, k) => values[k * step]!);
};
const sorted = (values: ArrayLike<number>): number[] => every(values).sort((a, b) => a - b);
export const median = (values: ArrayLike<number>): number => {
  const s = sorted(values);
  return s[Math.floor(s.length / 2)] ?? Number.NaN;
};

export function prepare(record: PoleRecording): Prepared {
  const negativeSign = signOfNegative(record);
  const stretchRows = stretchesOf(record.resistor);
  const timeS: number[] = [];
  const positiveV: number[] = [];
  const negativeV: number[] = [];
  const rows: number[] = [];
  const stretches: Stretch[] = [];
  for (const { at, from, to } of stretchRows) {
    const first = timeS.length;
    for (let k = from; k < to; ) {
      const end = pointEnd(record.timeS, k, from, to, record.resistor.length);
      const mean = (values: ArrayLike<number>): number => {
        let sum = 0;
        for (let i = k; i < end; i++) sum += values[i]!;
        return sum / (end - k);
      };
      timeS.push(mean(record.timeS));
      positiveV.push(mean(record.positiveV));
      negativeV.push(negativeSign * mean(record.negativeV));
      rows.push(end - k);
      k = end;
    }
    stretches.push({ at, from: first, to: timeS.length });
  }
  const betweenV = positiveV.map((v, k) => v + negativeV[k]!);
  const calm = medianOfFive(betweenV);
  const usualV = median(betweenV);
  const s = sorted(calm);
  const moves = (s.at(-1) ?? 0) - (s[0] ?? 0) > MOVING_SHARE * Math.abs(usualV);
  return {
    timeS: Float64Array.from(timeS),
    positiveV: Float64Array.from(positiveV),
    negativeV: Float64Array.from(negativeV),
    bothV: moves ? Float64Array.from(calm) : straight(timeS, betweenV),
    rows: Float64Array.from(rows),
    stretches,
    usualV,
    moves,
    resolutionV: Math.max(resolutionOf(record.positiveV), resolutionOf(record.negativeV)),
    negativeSign,
  };
}

/**
 * Whether the negative pole was recorded against chassis (below zero on a sound network) or chassis against it.
 * Whichever makes the pole-to-pole volts the steadier is right: the resistor moves both poles, not their
 * difference. Poles that never moved are told by their sign alone.
 */
function signOfNegative({ positiveV, negativeV }: PoleRecording): 1 | -1 {
  const p = every(positiveV);
  const n = every(negativeV);
  const spread = (sign: number): number => {
    const both = p.map((v, k) => v + sign * n[k]!);
    const middle = median(both);
    return median(both.map((v) => Math.abs(v - middle)));
  };
  const asMagnitude = spread(1);
  const asVolts = spread(-1);
  if (asMagnitude < 0.5 * asVolts) return 1;
  if (asVolts < 0.5 * asMagnitude) return -1;
  return median(n) * median(p) < 0 ? -1 : 1;
}

function stretchesOf(resistor: readonly ResistorAt[]): Stretch[] {
  const stretches: Stretch[] = [];
  for (let from = 0; from < resistor.length; ) {
    const at = resistor[from]!;
    let to = from + 1;
    while (to < resistor.length && resistor[to] === at) to++;
    stretches.push({ at, from, to });
    from = to;
  }
  return stretches;
}

/** Where the point that begins at row k ends. */
function pointEnd(timeS: ArrayLike<number>, k: number, from: number, to: number, all: number): number {
  let end = k + 1;
  if (all <= FEW_ROWS) return end;
  const lengthS = POINT_SHARE * (timeS[k]! - timeS[from]!);
  while (end < to && timeS[end]! - timeS[k]! < lengthS) end++;
  return end;
}

/** Takes out spikes and most of the noise but keeps steps. */
function medianOfFive(values: readonly number[]): number[] {
  return values.map((_, k) => {
    const near = values.slice(Math.max(0, k - 2), k + 3).sort((a, b) => a - b);
    return near[Math.floor(near.length / 2)]!;
  });
}

/** The straight line through the values. */
function straight(timeS: readonly number[], values: readonly number[]): Float64Array {
  const n = values.length;
  const meanT = timeS.reduce((a, b) => a + b, 0) / n;
  const meanV = values.reduce((a, b) => a + b, 0) / n;
  let tt = 0;
  let tv = 0;
  for (let k = 0; k < n; k++) {
    tt += (timeS[k]! - meanT) ** 2;
    tv += (timeS[k]! - meanT) * (values[k]! - meanV);
  }
  const slope = tt > 0 ? tv / tt : 0;
  return Float64Array.from(timeS, (t) => meanV + slope * (t - meanT));
}

/** Steps finer than this share of the span average out in any noise. */
const FINEST_SHARE = 1e-6;
const DECADES = [1, 0.1, 0.01, 1e-3, 1e-4];

/**
 * The step between figures: the steps of a converter where enough of them show, else the last digit written.
 * 0 when neither shows.
 */
function resolutionOf(values: ArrayLike<number>): number {
  const s = [...new Set(sorted(values))];
  const span = (s.at(-1) ?? 0) - (s[0] ?? 0);
  const steps = s.slice(1).map((v, k) => v - s[k]!);
  const least = Math.min(...steps.filter((step) => step > FINEST_SHARE * span));
  const origin = s[0] ?? 0;
  const isGrid = (step: number, from: number): boolean =>
    s.every((v) => Math.abs((v - from) / step - Math.round((v - from) / step)) < 0.02);
  if (s.length >= 6 && Number.isFinite(least) && isGrid(least, origin)) return least;
  return DECADES.find((digit) => digit < span && isGrid(digit, 0)) ?? 0;
}
