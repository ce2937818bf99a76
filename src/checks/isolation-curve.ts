/**
 * Isolation from a recorded settling curve, by the known resistor: pole resistances, pole capacitances and the
 * stored energy, each with how far it may be off. The whole curve is used, so nothing need have come to rest.
 *
 * A stiff pack holds the poles V apart; chassis floats between them. With Gp, Gn from each pole to chassis
 * (voltmeters and known resistor included) and capacitances Cp, Cn, the positive pole's volts x obey
 *     (Cp+Cn)·dx/dt + (Gp+Gn)·x = Gn·V + Cn·dV/dt.
 * While V stands still only the sum of the capacitances shows in any reading; how it divides between the poles
 * shows only when V itself moves (a pack joined, a ramp). Without that each pole is stated as half the sum, with
 * all of it as uncertainty.
 *
 * Each stretch of one switch position begins at a value of its own, so the instant of switching between two rows
 * does not matter, and figures that were settled before the next switching work as well.
 */
import { asEstimate, type Estimate, logarithmic, lower, part, reciprocal, scaled } from './estimate.js';
import { LEAST_F, MOST_F, networkByCharge } from './isolation-charge.js';
import { type PoleRecording, type Prepared, prepare, type ResistorAt } from './isolation-record.js';
import { joined, type LeastSquares, leastSquares, type Problem, student95 } from './least-squares.js';

export interface Instrument {
  readonly knownOhm: number;
  /** Of each pole's voltmeter to chassis. */
  readonly meterOhm: number;
}

export interface IsolationCurve {
  readonly positiveOhm: Estimate;
  readonly negativeOhm: Estimate;
  /** Both poles together, as an injecting monitor would show it. */
  readonly parallelOhm: Estimate;
  /** The lower single pole. */
  readonly lowerOhm: Estimate;
  /** Of the lower pole, at the recorded voltage. */
  readonly ohmPerVolt: Estimate;
  readonly positiveFarad: Estimate;
  readonly negativeFarad: Estimate;
  readonly totalFarad: Estimate;
  /** All of it at the recorded voltage: what a person who bridges pole and chassis can meet. */
  readonly storedJ: Estimate;
  readonly voltageV: number;
  /** With the resistor connected. */
  readonly timeConstantS: number;
  /** The curve must have moved for its capacitance to be told apart between the poles. */
  readonly dividedBetweenPoles: boolean;
  /** What the curve leaves unexplained, V r.m.s.; far above the noise the record fits no such network. */
  readonly fitRmsV: number;
  /** −1 when the negative pole was recorded against chassis, 1 when chassis against it. */
  readonly negativeSign: 1 | -1;
  /** For a drawing: the positive pole's volts as the network found would have them. */
  readonly drawn: {
    readonly timeS: Float64Array;
    readonly positiveV: Float64Array;
    readonly negativeV: Float64Array;
  };
}

/** Assumed of a voltmeter before its record shows better: 50 mV and 0.1 % of the reading. */
const NOISE_V = 0.05;
const NOISE_SHARE = 1e-3;
/** Deviation granted to a point that says nothing. */
const DEAD_V = 1e9;
const LEAST_CONDUCTANCE_SHARE = 1e-7;
/** A capacitance open by more than this logarithm left no curve in the record: there is only a bound. */
const NO_CURVE = 1;

const POSITIVE = 0;
const NEGATIVE = 1;
const LOG_FARAD = 2;
const SHARE = 3;

/** Switch positions of a record that have enough rows to count. */
export function positionsOf(resistor: readonly ResistorAt[]): ResistorAt[] {
  return (['none', 'pos', 'neg'] as const).filter((at) => resistor.filter((r) => r === at).length >= 2);
}

/**
 * @param record at least two switch positions of two rows each (`positionsOf`), 8 rows in all; else nothing is
 *   determined and every figure is open to both ends
 */
export function isolationFromCurve(record: PoleRecording, instrument: Instrument): IsolationCurve {
  const data = prepare(record);
  const model = new Model(data, instrument);
  const first = model.fit();
  // What each position's noise really is: the rows of a pole near zero must not count for more than they know.
  model.reweigh(first);
  const found = model.refine(first);
  return model.state(found);
}

class Model {
  readonly #d: Prepared;
  readonly #knownS: number;
  readonly #meterS: number;
  /** Standard deviation of each point's residual, V. */
  readonly #sigmaV: Float64Array;
  /** Measured positive pole's volts, freed from the noise of the pole-to-pole volts. */
  readonly #readV: Float64Array;
  readonly #parameters: number;

  constructor(data: Prepared, instrument: Instrument) {
    this.#d = data;
    this.#knownS = 1 / instrument.knownOhm;
    this.#meterS = 1 / instrument.meterOhm;
    const n = data.timeS.length;
    this.#sigmaV = new Float64Array(n);
    this.#readV = new Float64Array(n);
    const deadV = 0.05 * Math.abs(data.usualV);
    for (let k = 0; k < n; k++) {
      const p = data.positiveV[k]!;
      const m = data.negativeV[k]!;
      const v = p + m;
      // The share of one pole is far better known than its volts: noise of the other pole hardly enters it.
      const live = Math.abs(v) > deadV;
      this.#readV[k] = live ? (p / v) * data.bothV[k]! : p;
      const noiseV = Math.hypot(m * (NOISE_V + NOISE_SHARE * p), p * (NOISE_V + NOISE_SHARE * m)) / v;
      this.#sigmaV[k] = live ? Math.abs(noiseV) / Math.sqrt(data.rows[k]!) : DEAD_V;
    }
    this.#parameters = data.moves ? 4 : 3;
  }

  /** The pack was away: nothing there tells of the network. */
  #isDead(k: number): boolean {
    return this.#sigmaV[k]! > 1e-3 * DEAD_V;
  }

  /** Conductances of a position, S, from parameters in units of the known resistor's. */
  #conductances(q: Float64Array, at: ResistorAt): { positiveS: number; negativeS: number } {
    return {
      positiveS: this.#knownS * (q[POSITIVE]! + (at === 'pos' ? 1 : 0)),
      negativeS: this.#knownS * (q[NEGATIVE]! + (at === 'neg' ? 1 : 0)),
    };
  }

  /** Computed volts of the positive pole; each stretch begins where it fits best. */
  #curve(q: Float64Array): Float64Array {
    const { timeS, bothV, stretches } = this.#d;
    const out = new Float64Array(timeS.length);
    const kept = new Float64Array(timeS.length);
    const farad = Math.exp(q[LOG_FARAD]!);
    const share = this.#parameters > SHARE ? q[SHARE]! : 0.5;
    for (const { at, from, to } of stretches) {
      const { positiveS, negativeS } = this.#conductances(q, at);
      const rate = (positiveS + negativeS) / farad;
      const rest = negativeS / (positiveS + negativeS);
      let pull = 0;
      let hold = 0;
      kept[from] = 1;
      out[from] = 0;
      for (let k = from; k < to; k++) {
        if (k > from) {
          const decay = Math.exp(-rate * (timeS[k]! - timeS[k - 1]!));
          const step = bothV[k]! - bothV[k - 1]!;
          kept[k] = decay * kept[k - 1]!;
          out[k] = decay * (out[k - 1]! + share * step) + bothV[k]! * rest * (1 - decay);
        }
        const weight = 1 / this.#sigmaV[k]! ** 2;
        pull += weight * kept[k]! * (this.#readV[k]! - out[k]!);
        hold += weight * kept[k]! ** 2;
      }
      const begin = pull / hold;
      for (let k = from; k < to; k++) out[k] = out[k]! + begin * kept[k]!;
    }
    return out;
  }

  #residuals(q: Float64Array): Float64Array {
    return this.#curve(q).map((v, k) => (this.#readV[k]! - v) / this.#sigmaV[k]!);
  }

  #problem(): Problem {
    const tiny = LEAST_CONDUCTANCE_SHARE;
    return {
      residuals: (q) => this.#residuals(q),
      steps: [1e-6, 1e-6, 1e-5, 1e-5],
      low: [tiny, tiny, Math.log(LEAST_F), 0],
      high: [1e9, 1e9, Math.log(MOST_F), 1],
    };
  }

  refine(found: LeastSquares): LeastSquares {
    return leastSquares(this.#problem(), found.at);
  }

  fit(): LeastSquares {
    const problem = this.#problem();
    const { positive, negative, farad, share } = networkByCharge(this.#d, this.#readV, 1 / this.#knownS);
    // Where the curves were over between two rows their charge tells nothing of the capacitance.
    const farads = [farad];
    for (let other = 10 * LEAST_F; other < MOST_F; other *= Math.sqrt(10)) farads.push(other);
    const starts = farads.map((f) => {
      const q = [positive, negative, Math.log(f), share].slice(0, this.#parameters);
      const squares = this.#residuals(Float64Array.from(q)).reduce((sum, r) => sum + r * r, 0);
      return { q, squares };
    });
    return leastSquares(problem, starts.reduce((best, s) => (s.squares < best.squares ? s : best)).q);
  }

  /** Scales the noise of each position to what its points leave unexplained. */
  reweigh(found: LeastSquares): void {
    const curve = this.#curve(found.at);
    for (const at of ['none', 'pos', 'neg'] as const) {
      const mine = this.#d.stretches.filter((s) => s.at === at);
      const points = mine.reduce((sum, { from, to }) => sum + to - from, 0);
      let squares = 0;
      for (const { from, to } of mine)
        for (let k = from; k < to; k++) squares += ((this.#readV[k]! - curve[k]!) / this.#sigmaV[k]!) ** 2;
      // The start of each stretch and a share of the common parameters were fitted to these very points.
      const freedom = Math.max(1, points - mine.length - 1);
      const factor = Math.min(1e3, Math.max(0.02, Math.sqrt(squares / freedom)));
      for (const { from, to } of mine)
        for (let k = from; k < to; k++) this.#sigmaV[k] = this.#sigmaV[k]! * factor;
    }
  }

  state(found: LeastSquares): IsolationCurve {
    const d = this.#d;
    const q = found.at;
    const curve = this.#curve(q);
    const freedom = d.timeS.length - d.stretches.length - this.#parameters;
    // Never better than the noise granted to each point: figures without any noise are still only figures.
    const spread = Math.max(1, found.squares / Math.max(1, freedom)) * this.#memory(found);
    const pulls = this.#pullsOfSteps(found);
    const reach = student95(freedom);
    const deviation = (...weights: number[]): number => {
      const ofSteps = pulls.reduce((sum, pull) => sum + joined(weights, found.covariance, pull) ** 2, 0);
      return Math.sqrt(Math.max(0, joined(weights, found.covariance, weights)) * spread + ofSteps);
    };
    const leak = (a: number, b: number): Estimate => {
      const s = this.#knownS * (a * q[POSITIVE]! + b * q[NEGATIVE]!) - (a + b) * this.#meterS;
      return reciprocal(s, this.#knownS * reach * deviation(a, b, 0, 0));
    };
    const positiveOhm = leak(1, 0);
    const negativeOhm = leak(0, 1);
    const lowerOhm = lower(positiveOhm, negativeOhm);
    const bothV = Math.abs(d.usualV);
    const logReach = reach * deviation(0, 0, 1, 0);
    const totalFarad =
      logReach < NO_CURVE
        ? logarithmic(Math.exp(q[LOG_FARAD]!), logReach)
        : asEstimate(Number.NaN, 0, this.#mostFarad(found));
    const shareReach = d.moves ? reach * deviation(0, 0, 0, 1) : Number.POSITIVE_INFINITY;
    const divided = shareReach < 0.25;
    const share = divided ? q[SHARE]! : 0.5;
    const { positiveS, negativeS } = this.#conductances(q, 'pos');
    return {
      positiveOhm,
      negativeOhm,
      parallelOhm: leak(1, 1),
      lowerOhm,
      ohmPerVolt: scaled(lowerOhm, 1 / bothV),
      positiveFarad: part(totalFarad, 1 - share, divided ? shareReach : 0.5),
      negativeFarad: part(totalFarad, share, divided ? shareReach : 0.5),
      totalFarad,
      storedJ: scaled(totalFarad, 0.5 * bothV * bothV),
      voltageV: d.usualV,
      timeConstantS: totalFarad.value / (positiveS + negativeS),
      dividedBetweenPoles: divided,
      fitRmsV: this.#rms(curve),
      negativeSign: d.negativeSign,
      drawn: { timeS: d.timeS, positiveV: curve, negativeV: d.bothV.map((v, k) => v - curve[k]!) },
    };
  }

  /**
   * The curve was over before a row could catch it: then it was at least that fast. The earliest the switch can
   * have moved is right after the row before.
   */
  #mostFarad(found: LeastSquares): number {
    const { timeS, bothV, stretches, resolutionV } = this.#d;
    let most = Number.POSITIVE_INFINITY;
    for (let i = 1; i < stretches.length; i++) {
      const { at, from } = stretches[i]!;
      const { positiveS, negativeS } = this.#conductances(found.at, at);
      const restV = (bothV[from]! * negativeS) / (positiveS + negativeS);
      const noiseV = 3 * this.#sigmaV[from]! + resolutionV;
      const leftV = Math.abs(this.#readV[from]! - restV) + noiseV;
      const swing = Math.abs(this.#readV[from - 1]! - restV) / leftV;
      const gapS = timeS[from]! - timeS[from - 1]!;
      if (swing > 1.5) most = Math.min(most, ((positiveS + negativeS) * gapS) / Math.log(swing));
    }
    return most;
  }

  #rms(curve: Float64Array): number {
    let squares = 0;
    let points = 0;
    for (let k = 0; k < curve.length; k++) {
      if (this.#isDead(k)) continue;
      squares += (this.#readV[k]! - curve[k]!) ** 2;
      points++;
    }
    return Math.sqrt(squares / points);
  }

  /** Residuals that remember the one before carry less than their number says. */
  #memory(found: LeastSquares): number {
    const r = this.#residuals(found.at);
    let same = 0;
    let next = 0;
    for (const { from, to } of this.#d.stretches)
      for (let k = from + 1; k < to; k++) {
        next += r[k]! * r[k - 1]!;
        same += r[k]! * r[k]!;
      }
    const memory = Math.min(next / same, 0.98);
    return memory > 0.2 ? (1 + memory) / (1 - memory) : 1;
  }

  /**
   * What the steps of the voltmeters' figures can do: where the noise is smaller than a step it does not average
   * out. One unknown offset for each position and pole; by its pull on the parameters it is carried to a figure.
   */
  #pullsOfSteps(found: LeastSquares): number[][] {
    const { resolutionV, stretches, positiveV, negativeV } = this.#d;
    if (resolutionV === 0) return [];
    const mostOffV = resolutionV / Math.PI / Math.SQRT2;
    return (['none', 'pos', 'neg'] as const).flatMap((at) =>
      [positiveV, negativeV].map((pole) => {
        const pull = found.slopes.map(() => 0);
        for (const s of stretches.filter((x) => x.at === at))
          for (let k = s.from; k < s.to; k++) {
            if (this.#isDead(k)) continue;
            const v = positiveV[k]! + negativeV[k]!;
            const noiseV = NOISE_V + NOISE_SHARE * Math.abs(pole[k]!);
            const offV = mostOffV * Math.exp(-2 * ((Math.PI * noiseV) / resolutionV) ** 2);
            const off = ((1 - pole[k]! / v) * offV) / this.#sigmaV[k]!;
            found.slopes.forEach((slope, i) => {
              pull[i] = pull[i]! + slope[k]! * off;
            });
          }
        return pull;
      }),
    );
  }
}
