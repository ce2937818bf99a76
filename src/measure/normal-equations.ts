/**
 * Linear least squares with Gaussian priors: sums rows of `a·p = y ± sd`, whether measured or believed beforehand,
 * and solves for the parameters with some of them held at or above zero.
 *
 * Priors are what keeps a fit honest where a recording says nothing: a parameter no row speaks of keeps its prior
 * mean and its prior standard deviation, and its stated uncertainty says so.
 */
export interface Solution {
  readonly p: Float64Array;
  /** Row-major, of the free parameters; zero in rows and columns of those held at zero. */
  readonly covariance: Float64Array;
}

/** Rounds of fixing and freeing bounded parameters; far more than any fit needs. */
const MAX_ROUNDS = 50;

export class NormalEquations {
  readonly size: number;
  readonly #normal: Float64Array;
  readonly #right: Float64Array;
  #square = 0;

  constructor(size: number) {
    this.size = size;
    this.#normal = new Float64Array(size * size);
    this.#right = new Float64Array(size);
  }

  /** Adds a dense row. */
  add(row: Float64Array, y: number, sd: number): void {
    const weight = 1 / (sd * sd);
    const n = this.size;
    this.#square += weight * y * y;
    for (let i = 0; i < n; i++) {
      const a = row[i]!;
      if (a === 0) continue;
      const wa = weight * a;
      this.#right[i]! += wa * y;
      const base = i * n;
      for (let j = 0; j <= i; j++) this.#normal[base + j]! += wa * row[j]!;
    }
  }

  /** Adds a row given by its few terms. */
  believe(terms: readonly (readonly [index: number, factor: number])[], y: number, sd: number): void {
    const weight = 1 / (sd * sd);
    this.#square += weight * y * y;
    for (const [i, a] of terms) {
      this.#right[i]! += weight * a * y;
      for (const [j, b] of terms) if (j <= i) this.#normal[i * this.size + j]! += weight * a * b;
    }
  }

  /** Sum of squared deviations in units of their standard deviations, priors included. */
  misfit(p: Float64Array): number {
    let sum = this.#square;
    for (let i = 0; i < this.size; i++) {
      let row = 0;
      for (let j = 0; j < this.size; j++) row += this.#at(i, j) * p[j]!;
      sum += p[i]! * (row - 2 * this.#right[i]!);
    }
    return sum;
  }

  /** @param nonNegative one per parameter. @throws RangeError when rows and priors leave a parameter open */
  solve(nonNegative: readonly boolean[]): Solution {
    const held = new Set<number>();
    for (let round = 0; round < MAX_ROUNDS; round++) {
      const free = [...Array(this.size).keys()].filter((i) => !held.has(i));
      const factor = this.#factor(free);
      const p = this.#substitute(factor, free);
      const below = free.filter((i) => nonNegative[i] === true && p[i]! < 0);
      if (below.length > 0) {
        for (const i of below) held.add(i);
        continue;
      }
      // A parameter whose slope at zero points upward was held wrongly.
      const freed = round < MAX_ROUNDS / 2 ? [...held].filter((i) => this.#slope(i, p) > 1e-9) : [];
      if (freed.length === 0) return { p, covariance: this.#inverse(factor, free) };
      for (const i of freed) held.delete(i);
    }
    throw new RangeError('the bounded least squares did not settle');
  }

  #at(i: number, j: number): number {
    return j <= i ? this.#normal[i * this.size + j]! : this.#normal[j * this.size + i]!;
  }

  #slope(i: number, p: Float64Array): number {
    let row = this.#right[i]!;
    for (let j = 0; j < this.size; j++) row -= this.#at(i, j) * p[j]!;
    return row;
  }

  /** Cholesky factor of the free part, row-major. */
  #factor(free: readonly number[]): Float64Array {
    const n = free.length;
    const l = new Float64Array(n * n);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j <= i; j++) {
        let sum = this.#at(free[i]!, free[j]!);
        for (let k = 0; k < j; k++) sum -= l[i * n + k]! * l[j * n + k]!;
        if (i !== j) l[i * n + j] = sum / l[j * n + j]!;
        else if (sum > 0) l[i * n + i] = Math.sqrt(sum);
        else throw new RangeError('neither rows nor priors say anything of a parameter');
      }
    }
    return l;
  }

  #substitute(l: Float64Array, free: readonly number[]): Float64Array {
    const n = free.length;
    const x = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      let sum = this.#right[free[i]!]!;
      for (let k = 0; k < i; k++) sum -= l[i * n + k]! * x[k]!;
      x[i] = sum / l[i * n + i]!;
    }
    for (let i = n - 1; i >= 0; i--) {
      let sum = x[i]!;
      for (let k = i + 1; k < n; k++) sum -= l[k * n + i]! * x[k]!;
      x[i] = sum / l[i * n + i]!;
    }
    const p = new Float64Array(this.size);
    free.forEach((index, i) => {
      p[index] = x[i]!;
    });
    return p;
  }

  #inverse(l: Float64Array, free: readonly number[]): Float64Array {
    const n = free.length;
    // Inverse of the factor, then its transpose times itself.
    const m = new Float64Array(n * n);
    for (let j = 0; j < n; j++) {
      m[j * n + j] = 1 / l[j * n + j]!;
      for (let i = j + 1; i < n; i++) {
        let sum = 0;
        for (let k = j; k < i; k++) sum -= l[i * n + k]! * m[k * n + j]!;
        m[i * n + j] = sum / l[i * n + i]!;
      }
    }
    const covariance = new Float64Array(this.size * this.size);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j <= i; j++) {
        let sum = 0;
        for (let k = i; k < n; k++) sum += m[k * n + i]! * m[k * n + j]!;
        covariance[free[i]! * this.size + free[j]!] = sum;
        covariance[free[j]! * this.size + free[i]!] = sum;
      }
    }
    return covariance;
  }
}
