/**
 * A recorded pre-charge: time constant and final value of a capacitor filled through a resistor, and whether
 * that is the resistor and capacitor of the rig.
 *
 * The curve is flat until the contactor closes, then v = vEnd − (vEnd − vStart)·exp(−(t − t0)/τ). The record may
 * begin before or after the closing and need not reach the end. All four figures are fitted at once.
 */
import { asEstimate, type Estimate, evenly, logarithmic } from './estimate.js';
import { joined, leastSquares, type Problem, student95 } from './least-squares.js';

/**
 * ok: resistor, capacitor and supply as expected. shorted: far too fast, the resistor is bridged. open: nothing
 * arrives. slow: too slow, or it stops short of the supply because something draws current. unclear: nothing can
 * be told, e.g. the capacitor was full when the record began.
 */
export const PRECHARGE_VERDICTS = ['ok', 'shorted', 'open', 'slow', 'unclear'] as const;
export type PrechargeVerdict = (typeof PRECHARGE_VERDICTS)[number];

export interface PrechargeExpected {
  /** The supply lies in this range; the same twice where it is known. */
  readonly leastSupplyV: number;
  readonly mostSupplyV: number;
  readonly resistorOhm: number;
  readonly capacitanceF: number;
  /** How close the end must come to the supply. */
  readonly matchV: number;
  /** Within this time of the beginning, where the rig limits it. */
  readonly maxS?: number;
}

export interface PrechargeCurve {
  readonly tauS: Estimate;
  /** Where the curve ends if left alone. */
  readonly finalV: Estimate;
  readonly startV: number;
  /** When the rise began, on the record's clock. */
  readonly beginS: number;
  readonly expectedTauS: number;
  /** From the beginning to within `matchV` of the end. */
  readonly matchedAfterS: number;
  readonly fitRmsV: number;
  readonly verdict: PrechargeVerdict;
  readonly because: string;
  readonly drawn: { readonly timeS: Float64Array; readonly voltageV: Float64Array };
}

/** Faster than this share of the expected time constant is no tolerance of resistor and capacitor. */
const FAST_SHARE = 0.4;
/** Slower than this is neither: resistors are good to 10 %, large capacitors to 20 %. */
const SLOW_SHARE = 1.4;
/** Less than this share of the supply arriving is nothing arriving. */
const OPEN_SHARE = 0.05;
/** Two voltmeters may differ by this share. */
const ABOVE_SHARE = 0.02;
/** Records are thinned to about this many points: more say nothing about four figures. */
const POINTS = 4000;
/** Beside the record's own scatter, an instrument reads this far off, as a share of the greatest reading. */
const FLOOR_SHARE = 1e-5;

const LOG_TAU = 0;
const BEGIN = 1;

/** @param timeS rising, at least 8 */
export function prechargeFromCurve(
  timeS: ArrayLike<number>,
  voltageV: ArrayLike<number>,
  expected: PrechargeExpected,
): PrechargeCurve {
  const { t, v } = thin(timeS, voltageV);
  const firstS = t[0]!;
  const lastS = t.at(-1)!;
  const spanS = lastS - firstS;
  const stepS = spanS / (t.length - 1);
  const shape = (q: ArrayLike<number>): Float64Array => {
    const tauS = Math.exp(q[LOG_TAU]!);
    return t.map((at) => -Math.expm1(-Math.max(0, at - q[BEGIN]!) / tauS));
  };
  const problem: Problem = {
    residuals: (q) => {
      const h = shape(q);
      const { startV, riseV } = line(h, v);
      return h.map((x, k) => v[k]! - startV - riseV * x);
    },
    steps: [1e-5, 1e-5 * stepS],
    low: [Math.log(stepS / 50), firstS],
    high: [Math.log(50 * spanS), lastS],
  };
  const best = startsOf(t, v, problem).map((q) => leastSquares(problem, q));
  const found = best.reduce((a, b) => (b.squares < a.squares ? b : a));
  const h = shape(found.at);
  const { startV, riseV, endDeviation } = line(h, v);
  const freedom = t.length - 4;
  const greatestV = v.reduce((a, b) => Math.max(a, Math.abs(b)), 0);
  const varianceV2 = Math.max(found.squares / Math.max(freedom, 1), (FLOOR_SHARE * greatestV) ** 2);
  const reach = student95(freedom);
  const logOff = reach * Math.sqrt(found.covariance[0]! * varianceV2);
  const tauS = logarithmic(Math.exp(found.at[LOG_TAU]!), Math.min(logOff, 50));
  const finalOffV = reach * Math.sqrt(varianceV2) * Math.hypot(endDeviation, shapeMoves());
  const finalV = evenly(startV + riseV, finalOffV);
  const noiseV = Math.sqrt(varianceV2);
  const expectedTauS = expected.resistorOhm * expected.capacitanceF;
  const matchedAfterS = tauS.value * Math.max(0, Math.log(Math.abs(riseV) / expected.matchV));
  const judged = judge();
  return {
    tauS:
      judged.verdict === 'open' || judged.verdict === 'unclear'
        ? asEstimate(Number.NaN, 0, Number.POSITIVE_INFINITY)
        : tauS,
    finalV: judged.verdict === 'open' ? evenly(mean(v), (reach * noiseV) / Math.sqrt(t.length)) : finalV,
    startV,
    beginS: found.at[BEGIN]!,
    expectedTauS,
    matchedAfterS,
    fitRmsV: Math.sqrt(found.squares / t.length),
    ...judged,
    drawn: { timeS: t, voltageV: h.map((x) => startV + riseV * x) },
  };

  /** How far the end moves when the shape is off by its own deviation. */
  function shapeMoves(): number {
    const moves = problem.steps.map((step, i) => {
      const moved = line(shape(found.at.with(i, found.at[i]! + step)), v);
      return (moved.startV + moved.riseV - startV - riseV) / step;
    });
    return Math.sqrt(Math.max(0, joined(moves, found.covariance, moves)));
  }

  function judge(): { verdict: PrechargeVerdict; because: string } {
    const { leastSupplyV, mostSupplyV, matchV, maxS } = expected;
    const roseV = mean(v.slice(-Math.ceil(v.length / 20))) - startV;
    if (!(Math.abs(roseV) > Math.max(OPEN_SHARE * leastSupplyV, 3 * noiseV))) {
      const full = startV >= leastSupplyV - matchV;
      return full
        ? { verdict: 'unclear', because: 'the capacitor was full from the first row' }
        : { verdict: 'open', because: 'next to nothing arrives at the capacitor' };
    }
    if (!(stepS <= expectedTauS / 2))
      return {
        verdict: 'unclear',
        because: 'the rows are too far apart to time this resistor and capacitor',
      };
    if (tauS.atMost < FAST_SHARE * expectedTauS || tauS.value < 0.5 * FAST_SHARE * expectedTauS)
      return { verdict: 'shorted', because: 'far faster than this resistor can fill this capacitor' };
    if (!(tauS.value <= SLOW_SHARE * expectedTauS))
      return { verdict: 'slow', because: 'slower than resistor and capacitor explain' };
    if (finalV.atMost < leastSupplyV - matchV)
      return { verdict: 'slow', because: 'it ends short of the supply: something draws current' };
    if (!(finalV.atLeast <= mostSupplyV + Math.max(matchV, ABOVE_SHARE * mostSupplyV)))
      return { verdict: 'unclear', because: 'it ends above the supply' };
    if (maxS !== undefined && !(matchedAfterS <= maxS))
      return { verdict: 'slow', because: 'it does not come close enough within the time the rig gives' };
    if (tauS.value < FAST_SHARE * expectedTauS || !(tauS.atLeast > 0.5 * FAST_SHARE * expectedTauS))
      return { verdict: 'unclear', because: 'the rise has too few rows to be timed' };
    return { verdict: 'ok', because: 'time constant and final value are as expected' };
  }
}

const mean = (values: Float64Array): number => values.reduce((a, b) => a + b, 0) / values.length;

/**
 * Where to begin: the contactor may have closed at any steep place, or anywhere where no step stands out of the
 * noise. For each the best speed; the best of all would roll into one and the same hollow.
 */
function startsOf(t: Float64Array, v: Float64Array, problem: Problem): number[][] {
  const [lowLog, lowS] = problem.low as [number, number];
  const [highLog, highS] = problem.high as [number, number];
  const begins = [0, 1, 2, 3].map((quarter) => lowS + ((highS - lowS) * quarter) / 4);
  return [steepest(t, v), ...begins].map((begin) => {
    let best = { q: [lowLog, begin], squares: Number.POSITIVE_INFINITY };
    for (let k = 0; k <= 10; k++) {
      const q = [lowLog + ((highLog - lowLog) * k) / 10, begin];
      const squares = problem.residuals(Float64Array.from(q)).reduce((sum, r) => sum + r * r, 0);
      if (squares < best.squares) best = { q, squares };
    }
    return best.q;
  });
}

function steepest(t: Float64Array, v: Float64Array): number {
  let at = t[0]!;
  let most = 0;
  for (let k = 1; k < t.length; k++) {
    const step = Math.abs(v[k]! - v[k - 1]!);
    if (step > most) {
      most = step;
      at = t[k - 1]!;
    }
  }
  return at;
}

/** Best start and rise of v = start + rise·h, and how well start + rise is then known. */
function line(h: Float64Array, v: Float64Array) {
  const n = h.length;
  const meanH = mean(h);
  const meanV = mean(v);
  let hh = 0;
  let hv = 0;
  for (let k = 0; k < n; k++) {
    hh += (h[k]! - meanH) ** 2;
    hv += (h[k]! - meanH) * v[k]!;
  }
  const riseV = hv / hh;
  const startV = meanV - riseV * meanH;
  /** Deviation of start + rise for rows of deviation 1, the shape taken as known. */
  const endDeviation = Math.sqrt(1 / n + (1 - meanH) ** 2 / hh);
  return { startV, riseV, endDeviation };
}

/** Means of neighbouring rows, so that a long record costs no more than it tells. */
function thin(timeS: ArrayLike<number>, voltageV: ArrayLike<number>): { t: Float64Array; v: Float64Array } {
  const each = Math.max(1, Math.floor(timeS.length / POINTS));
  const points = Math.floor(timeS.length / each);
  const of = (values: ArrayLike<number>): Float64Array =>
    Float64Array.from({ length: points }, (_, k) => {
      let sum = 0;
      for (let i = 0; i < each; i++) sum += values[k * each + i]!;
      return sum / each;
    });
  return { t: of(timeS), v: of(voltageV) };
}
