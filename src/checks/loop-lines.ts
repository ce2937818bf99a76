/**
 * Foreign sinusoids in a recording: mains and rectifier ripple picked up by the pilot core. Each is found as a
 * peak of the residual's spectrum that noise cannot make, and then fitted along with the loop.
 */

export interface Line {
  /** Amplitudes of cosine and sine at time 0, A. */
  readonly cosA: number;
  readonly sinA: number;
  readonly hertz: number;
}

/** Parameters of one line in a fit: cosine, sine, frequency. */
export const LINE_PARAMETERS = 3;
/** Orders at which mains appears: itself, its distortion, and ripple of six- and twelve-pulse rectifiers. */
const ORDERS = [1, 2, 3, 5, 6, 7, 12, 18, 24];
const MAINS_HZ = [50, 60];
/** Sets leave their nominal frequency by this share. */
const MAINS_SHARE = 0.03;
/** Noise alone exceeds the threshold in one recording of this many. */
const FALSE_ONCE_IN = 1000;
/** Samples a pilot period the search looks at; finer recordings are averaged down to it. */
const SEARCH_POINTS = 20;
/** No pick-up worth fitting lies above, Hz. */
const HIGHEST_HZ = 2000;

export function addLine(
  { cosA, sinA, hertz }: Line,
  timeS: Float64Array,
  current: Float64Array,
  slopes?: readonly Float64Array[],
): void {
  const omega = 2 * Math.PI * hertz;
  for (let n = 0; n < current.length; n++) {
    const t = timeS[n]!;
    const c = Math.cos(omega * t);
    const s = Math.sin(omega * t);
    current[n] = current[n]! + cosA * c + sinA * s;
    if (slopes === undefined) continue;
    slopes[0]![n] = c;
    slopes[1]![n] = s;
    slopes[2]![n] = 2 * Math.PI * t * (sinA * c - cosA * s);
  }
}

/** Sums of x·cos and x·sin over a recording, at one frequency. */
export function project(timeS: Float64Array, x: Float64Array, hertz: number): { cos: number; sin: number } {
  const omega = 2 * Math.PI * hertz;
  let cos = 0;
  let sin = 0;
  for (let n = 0; n < x.length; n++) {
    cos += x[n]! * Math.cos(omega * timeS[n]!);
    sin += x[n]! * Math.sin(omega * timeS[n]!);
  }
  return { cos, sin };
}

/** The same at evenly spaced times, by turning a pointer: an order faster. */
function projectEven(stepS: number, x: Float64Array, hertz: number): { cos: number; sin: number } {
  const turn = 2 * Math.PI * hertz * stepS;
  const cosTurn = Math.cos(turn);
  const sinTurn = Math.sin(turn);
  let c = 1;
  let s = 0;
  let cos = 0;
  let sin = 0;
  for (let n = 0; n < x.length; n++) {
    cos += x[n]! * c;
    sin += x[n]! * s;
    const next = c * cosTurn - s * sinTurn;
    s = s * cosTurn + c * sinTurn;
    c = next;
  }
  return { cos, sin };
}

/**
 * Times averaged and residuals summed over blocks, so that the search does not pay for a fine recording: it asks
 * for shares of the whole, and the scale is in both.
 */
function thinned(
  timeS: Float64Array,
  x: Float64Array,
  block: number,
): { timeS: Float64Array; x: Float64Array } {
  const n = Math.floor(x.length / block);
  const t = new Float64Array(n);
  const y = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    for (let j = 0; j < block; j++) {
      t[k] = t[k]! + timeS[k * block + j]! / block;
      y[k] = y[k]! + x[k * block + j]!;
    }
  }
  return { timeS: t, x: y };
}

/**
 * The strongest line of a residual, or null when none stands out of the noise.
 * @param pilotHz its multiples are left out, save where mains may lie on one: what the loop's model leaves there
 *   is the model's, not pick-up
 */
export function strongestLine(timeS: Float64Array, residual: Float64Array, pilotHz: number): Line | null {
  const spanS = timeS[timeS.length - 1]! - timeS[0]!;
  const rawHz = (timeS.length - 1) / spanS;
  const thin = thinned(timeS, residual, Math.max(1, Math.floor(rawHz / pilotHz / SEARCH_POINTS)));
  const n = thin.x.length;
  const stepS = (thin.timeS[n - 1]! - thin.timeS[0]!) / (n - 1);
  const even = thin.timeS.every((t, k) => Math.abs(t - thin.timeS[0]! - k * stepS) < 0.02 * stepS);
  const power = (hertz: number): number => {
    const { cos, sin } = even ? projectEven(stepS, thin.x, hertz) : project(thin.timeS, thin.x, hertz);
    return cos * cos + sin * sin;
  };
  let squares = 0;
  for (const x of thin.x) squares += x * x;
  const sampleHz = 1 / stepS;
  const highestHz = Math.min(sampleHz / 2, HIGHEST_HZ);
  const width = 1 / spanS;
  let best = 0;
  let bestHz = 0;
  for (let hertz = 0.75 * width; hertz < highestHz; hertz += width / 2) {
    if (!mayBeLine(hertz, pilotHz, 0.75 * width, rawHz)) continue;
    const p = power(hertz);
    if (p > best) {
      best = p;
      bestHz = hertz;
    }
  }
  // Of white noise the share of one frequency in the whole is exponential with mean 1/n.
  const threshold = Math.log((n / 2) * FALSE_ONCE_IN);
  if (!(best / squares > threshold)) return null;
  const hertz = peakNear(power, bestHz, width / 2);
  const { cos, sin } = project(timeS, residual, hertz);
  return { cosA: (2 * cos) / residual.length, sinA: (2 * sin) / residual.length, hertz };
}

/** Top of a hill by halving the stride. */
function peakNear(power: (hertz: number) => number, startHz: number, startStride: number): number {
  let at = startHz;
  let top = power(at);
  for (let stride = startStride / 2; stride > startStride / 64; stride /= 2) {
    for (const next of [at - stride, at + stride]) {
      const p = power(next);
      if (p > top) {
        top = p;
        at = next;
      }
    }
  }
  return at;
}

function mayBeLine(hertz: number, pilotHz: number, guardHz: number, sampleHz: number): boolean {
  const order = Math.round(hertz / pilotHz);
  if (Math.abs(hertz - order * pilotHz) > guardHz) return true;
  if (order < 2) return false;
  return MAINS_HZ.some((mains) =>
    ORDERS.some((k) => {
      const trueHz = k * mains;
      // Where a coarse recording shows it.
      const seenHz = Math.abs(trueHz - Math.round(trueHz / sampleHz) * sampleHz);
      return Math.abs(hertz - seenHz) < MAINS_SHARE * trueHz;
    }),
  );
}
