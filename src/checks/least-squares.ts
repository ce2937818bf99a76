/**
 * Least squares for curves with a handful of parameters: damped Gauss–Newton steps with numerical slopes.
 * Small on purpose: the problems here have two to four parameters and start near their answer.
 */

export interface LeastSquares {
  /** The parameters at the least sum of squares found. */
  readonly at: Float64Array;
  /** That sum, of residuals in units of their standard deviation. */
  readonly squares: number;
  /**
   * (JᵀJ)⁻¹, row by row: the covariance when the residuals are independent with deviation 1. Infinity on the
   * diagonal where the data do not determine a parameter.
   */
  readonly covariance: Float64Array;
  /** Slopes of the residuals, one column for each parameter. */
  readonly slopes: readonly Float64Array[];
}

export interface Problem {
  /** Residuals in units of their standard deviation; always the same number of them. */
  residuals(at: Float64Array): Float64Array;
  /** Steps for the numerical slopes, about a thousandth of what would matter. */
  readonly steps: readonly number[];
  /** The slopes of all residuals, one column for each parameter, where algebra gives them; then no steps are taken. */
  exactSlopes?(at: Float64Array): Float64Array[];
  readonly low: readonly number[];
  readonly high: readonly number[];
  /** A round that gains less than this share of the sum is the last. Default 1e-9. */
  readonly gainShare?: number;
}

const MAX_ROUNDS = 60;
const GAIN_SHARE = 1e-9;

const sumOfSquares = (r: Float64Array): number => {
  let sum = 0;
  for (const x of r) sum += x * x;
  return sum;
};

/** @param start within the bounds */
export function leastSquares(problem: Problem, start: ArrayLike<number>): LeastSquares {
  const p = start.length;
  let at = Float64Array.from(start);
  let residuals = problem.residuals(at);
  let squares = sumOfSquares(residuals);
  let damping = 1e-3;
  let slopes = slopesAt(problem, at, residuals);
  for (let round = 0; round < MAX_ROUNDS; round++) {
    const pull = slopes.map((column) => dot(column, residuals));
    // A parameter that stands at a bound and is drawn beyond it takes no part, or the others would be moved as if
    // it could follow.
    const free = slopes.map((column, i) => {
      const beyond = pull[i]! > 0 ? at[i]! <= problem.low[i]! : at[i]! >= problem.high[i]!;
      return beyond ? new Float64Array(column.length) : column;
    });
    const normal = normalMatrix(free);
    let gained = false;
    for (let tries = 0; tries < 8 && !gained; tries++) {
      const damped = Float64Array.from(normal);
      for (let i = 0; i < p; i++) damped[i * p + i] = normal[i * p + i]! * (1 + damping);
      const step = multiply(inverse(damped, p), pull);
      // A parameter without hold stays where it is.
      const next = at.map((x, i) =>
        Number.isFinite(step[i]) ? Math.min(problem.high[i]!, Math.max(problem.low[i]!, x - step[i]!)) : x,
      );
      const nextResiduals = problem.residuals(next);
      const nextSquares = sumOfSquares(nextResiduals);
      if (nextSquares < squares) {
        gained = squares - nextSquares > (problem.gainShare ?? GAIN_SHARE) * squares;
        at = next;
        residuals = nextResiduals;
        squares = nextSquares;
        damping = Math.max(damping / 10, 1e-12);
        break;
      }
      damping = Math.min(damping * 10, 1e12);
    }
    slopes = slopesAt(problem, at, residuals);
    if (!gained) break;
  }
  return { at, squares, covariance: inverse(normalMatrix(slopes), p), slopes };
}

function slopesAt(problem: Problem, at: Float64Array, here: Float64Array): Float64Array[] {
  if (problem.exactSlopes !== undefined) return problem.exactSlopes(at);
  return Array.from(at, (x, i) => {
    // Away from the bound that stands nearer, so that a slope never reaches outside.
    const up = problem.high[i]! - x >= x - problem.low[i]!;
    const step = up ? problem.steps[i]! : -problem.steps[i]!;
    const there = Float64Array.from(at);
    there[i] = x + step;
    return problem.residuals(there).map((r, k) => (r - here[k]!) / step);
  });
}

const dot = (a: Float64Array, b: Float64Array): number => {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k]! * b[k]!;
  return sum;
};

function normalMatrix(slopes: readonly Float64Array[]): Float64Array {
  const p = slopes.length;
  const m = new Float64Array(p * p);
  for (let i = 0; i < p; i++)
    for (let j = 0; j <= i; j++) {
      m[i * p + j] = dot(slopes[i]!, slopes[j]!);
      m[j * p + i] = m[i * p + j]!;
    }
  return m;
}

const multiply = (m: Float64Array, v: readonly number[]): number[] =>
  v.map((_, i) => v.reduce((sum, x, j) => sum + m[i * v.length + j]! * x, 0));

/**
 * Inverse of a symmetric matrix by Gauss–Jordan on its equilibrated form. A parameter without any hold gets
 * Infinity on its diagonal and no covariance with the others.
 */
function inverse(matrix: Float64Array, p: number): Float64Array {
  const scale = Array.from({ length: p }, (_, i) => Math.sqrt(matrix[i * p + i]!));
  const held = scale.map(() => true);
  const w = new Float64Array(p * p);
  for (let i = 0; i < p; i++)
    for (let j = 0; j < p; j++) {
      const both = scale[i]! * scale[j]!;
      w[i * p + j] = both > 0 ? matrix[i * p + j]! / both : 0;
    }
  for (let k = 0; k < p; k++) {
    // Sweep: after all pivots the matrix is its own inverse. One left out touches no row but its own.
    const pivot = w[k * p + k]!;
    if (!(pivot > 1e-14)) {
      held[k] = false;
      continue;
    }
    for (let i = 0; i < p; i++) {
      if (i === k) continue;
      const f = w[i * p + k]! / pivot;
      for (let j = 0; j < p; j++) w[i * p + j] = w[i * p + j]! - f * w[k * p + j]!;
      w[i * p + k] = -f;
    }
    for (let j = 0; j < p; j++) w[k * p + j] = w[k * p + j]! / pivot;
    w[k * p + k] = 1 / pivot;
  }
  const result = new Float64Array(p * p);
  for (let i = 0; i < p; i++)
    for (let j = 0; j < p; j++) {
      if (held[i] && held[j]) result[i * p + j] = w[i * p + j]! / (scale[i]! * scale[j]!);
      else if (i === j) result[i * p + j] = Number.POSITIVE_INFINITY;
    }
  return result;
}

/** aᵀ·C·b. What has no part in a figure adds nothing to it, however unknown it is. */
export function joined(a: readonly number[], covariance: Float64Array, b: readonly number[]): number {
  const p = Math.sqrt(covariance.length);
  return covariance.reduce((sum, c, at) => {
    const both = a[Math.floor(at / p)]! * b[at % p]!;
    return both === 0 ? sum : sum + both * c;
  }, 0);
}

/**
 * How many standard deviations hold 95 %, for a deviation that was itself found from `freedom` residuals
 * (Student; the fit is good to 2 % from 3 on).
 */
export function student95(freedom: number): number {
  if (!(freedom >= 1)) return Number.POSITIVE_INFINITY;
  if (freedom < 1.5) return 12.706;
  if (freedom < 2.5) return 4.303;
  return 1.96 + 2.42 / freedom + 2.6 / freedom ** 2 + 5 / freedom ** 3;
}
