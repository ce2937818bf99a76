/**
 * Fits a model of the pilot current, and whatever pick-up stands out beside it, to a recording.
 *
 * The unknown strength of the noise is found from the residual; beliefs about parameters (what a diode is like)
 * count as further observations with their own deviation, so that a poor recording leans on them and a good one
 * overrules them.
 */
import { leastSquares } from './least-squares.js';
import { addLine, LINE_PARAMETERS, type Line, strongestLine } from './loop-lines.js';

export interface Belief {
  readonly parameter: number;
  readonly mean: number;
  readonly deviation: number;
}

export interface BaseModel {
  readonly start: readonly number[];
  readonly low: readonly number[];
  readonly high: readonly number[];
  readonly beliefs: readonly Belief[];
  /** Which parameter is the pilot frequency. */
  readonly hertz: number;
  /** @param slopes columns of its own parameters first; there may be more */
  evaluate(
    at: ArrayLike<number>,
    timeS: Float64Array,
    current: Float64Array,
    slopes?: readonly Float64Array[],
  ): void;
}

export interface LoopFit {
  /** Parameters of the base model. */
  readonly at: Float64Array;
  /** Their covariance, row by row. */
  readonly covariance: Float64Array;
  readonly lines: readonly Line[];
  /** Standard deviation of the noise, A. */
  readonly noiseA: number;
  /** Observations less parameters. */
  readonly freedom: number;
  readonly residualA: Float64Array;
}

/**
 * What the model itself leaves out, as a share of the peak: reverse current, and how the cable's capacitance acts
 * within the knee. A recording without noise is not known better than this.
 */
const MODEL_SHARE = 3e-5;
/** Mains, its distortion and the ripple of two rectifiers: more is no pilot recording. */
const MAX_LINES = 8;
const MAX_WEIGHINGS = 6;
/** When to end a fit that only prepares the next, and the last one. */
const ROUGH = 1e-4;
const FINE = 1e-9;
/** Share of a line that subtracting it by projection may leave. */
const LEFT_OVER = 0.15;
/** Nothing below this share of the peak is pick-up: it may be what the model leaves out. */
const LINE_FLOOR = 3e-4;

export function fitWithLines(
  model: BaseModel,
  timeS: Float64Array,
  currentA: Float64Array,
  peakA: number,
): LoopFit {
  const leastA = MODEL_SHARE * peakA;
  let fit = fitOnce(model, timeS, currentA, model.start, [], peakA / 20, leastA, ROUGH);
  const more = () => linesOf(timeS, fit, fit.at[model.hertz]!, peakA);
  // Each round adds a line at least, and there are never more than MAX_LINES.
  for (let found = more(); found.length > 0; found = more())
    fit = fitOnce(model, timeS, currentA, fit.at, [...fit.lines, ...found], fit.noiseA, leastA, ROUGH);
  // Again with the noise as it came out, which sets how much the beliefs weigh, until it stands.
  for (let k = 0; k < MAX_WEIGHINGS; k++) {
    const before = fit.noiseA;
    fit = fitOnce(model, timeS, currentA, fit.at, fit.lines, before, leastA, FINE);
    if (Math.abs(fit.noiseA - before) < 0.01 * before) break;
  }
  return fit;
}

/** The strongest line of the residual, the strongest of what that leaves, and so on: a start for fitting all. */
function linesOf(timeS: Float64Array, fit: LoopFit, pilotHz: number, peakA: number): Line[] {
  let left = fit.residualA;
  const found: Line[] = [];
  while (fit.lines.length + found.length < MAX_LINES) {
    const line = strongestLine(timeS, left, pilotHz);
    if (line === null || amplitude(line) < LINE_FLOOR * peakA) break;
    found.push(line);
    const foreign = new Float64Array(left.length);
    addLine(line, timeS, foreign);
    left = left.map((x, n) => x - foreign[n]!);
    // What a rough subtraction leaves of a strong line is not another line: look again after fitting these.
    if (amplitude(line) < LEFT_OVER * amplitude(found[0]!)) {
      found.pop();
      break;
    }
  }
  return found;
}

const amplitude = (line: Line): number => Math.hypot(line.cosA, line.sinA);

function fitOnce(
  model: BaseModel,
  timeS: Float64Array,
  currentA: Float64Array,
  start: ArrayLike<number>,
  lines: readonly Line[],
  noiseA: number,
  leastNoiseA: number,
  gainShare: number,
): LoopFit {
  const n = currentA.length;
  const base = model.start.length;
  const count = base + LINE_PARAMETERS * lines.length;
  const believed = model.beliefs.length;
  const columns = Array.from({ length: count }, () => new Float64Array(n + believed));
  const views = columns.map((c) => c.subarray(0, n));
  const lineAt = (at: ArrayLike<number>, k: number): Line => ({
    cosA: at[base + LINE_PARAMETERS * k]!,
    sinA: at[base + LINE_PARAMETERS * k + 1]!,
    hertz: at[base + LINE_PARAMETERS * k + 2]!,
  });
  const current = new Float64Array(n);
  const evaluate = (at: ArrayLike<number>, slopes?: readonly Float64Array[]): void => {
    model.evaluate(at, timeS, current, slopes);
    for (let k = 0; k < lines.length; k++) {
      const from = base + LINE_PARAMETERS * k;
      addLine(lineAt(at, k), timeS, current, slopes?.slice(from, from + LINE_PARAMETERS));
    }
  };
  const spanS = timeS[n - 1]! - timeS[0]!;
  const result = leastSquares(
    {
      steps: [],
      gainShare,
      low: [...model.low, ...lines.flatMap((l) => [-1, -1, l.hertz - 1 / spanS])],
      high: [...model.high, ...lines.flatMap((l) => [1, 1, l.hertz + 1 / spanS])],
      residuals(at) {
        evaluate(at);
        const r = new Float64Array(n + believed);
        for (let k = 0; k < n; k++) r[k] = (current[k]! - currentA[k]!) / noiseA;
        model.beliefs.forEach((b, k) => {
          r[n + k] = (at[b.parameter]! - b.mean) / b.deviation;
        });
        return r;
      },
      exactSlopes(at) {
        evaluate(at, views);
        for (const column of views) for (let k = 0; k < n; k++) column[k] = column[k]! / noiseA;
        model.beliefs.forEach((b, k) => {
          columns[b.parameter]![n + k] = 1 / b.deviation;
        });
        return columns;
      },
    },
    [
      ...Array.from({ length: base }, (_, k) => start[k]!),
      ...lines.flatMap((l) => [l.cosA, l.sinA, l.hertz]),
    ],
  );
  evaluate(result.at);
  const residualA = current.map((x, k) => currentA[k]! - x);
  let squares = 0;
  for (const r of residualA) squares += r * r;
  const freedom = Math.max(1, n + believed - count);
  return {
    at: result.at.slice(0, base),
    covariance: upperLeft(result.covariance, count, base),
    lines: lines.map((_, k) => lineAt(result.at, k)),
    noiseA: Math.max(Math.sqrt(squares / freedom), leastNoiseA),
    freedom,
    residualA,
  };
}

function upperLeft(matrix: Float64Array, size: number, part: number): Float64Array {
  return Float64Array.from(
    { length: part * part },
    (_, k) => matrix[Math.floor(k / part) * size + (k % part)]!,
  );
}
