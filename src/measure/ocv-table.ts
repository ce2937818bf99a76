/** Open-circuit volts measured over the state of charge: a smooth curve through the points, straight beyond them. */
export interface OcvPoint {
  /** 0 to 1. */
  readonly soc: number;
  readonly v: number;
  /** Half the gap between the charged and the discharged curve, where it was measured. */
  readonly hysteresisV?: number;
}

export interface OcvCurve {
  readonly v: (soc: number) => number;
  /** V per unit of charge. */
  readonly slope: (soc: number) => number;
  /** NaN where the table lacks it. */
  readonly hysteresisV: (soc: number) => number;
  readonly inverse: (v: number) => number;
  readonly lowSoc: number;
  readonly highSoc: number;
  readonly points: number;
}

/** Slopes are taken over this much charge to both sides: a table's own noise is no slope. */
const SLOPE_SOC = 0.01;
/** No cell is steeper within its range. */
const STEEPEST_V = 10;

/** Above the highest point the curve goes on as it rose over this much charge: the last step alone may be level. */
const BEYOND_SOC = 0.05;

/** @param points at least two, in any order. Between them a cubic that never overshoots (Fritsch and Carlson). */
export function ocvCurve(points: readonly OcvPoint[]): OcvCurve {
  const sorted = [...points].sort((a, b) => a.soc - b.soc);
  const n = sorted.length;
  const step = (i: number): number => sorted[i + 1]!.soc - sorted[i]!.soc;
  const rise = (i: number): number => (sorted[i + 1]!.v - sorted[i]!.v) / step(i);
  const tangents = sorted.map((_, i) => {
    if (i === 0) return rise(0);
    if (i === n - 1) return rise(n - 2);
    const [before, after] = [rise(i - 1), rise(i)];
    if (!(before * after > 0)) return 0;
    const [a, b] = [2 * step(i) + step(i - 1), step(i) + 2 * step(i - 1)];
    return (a + b) / (a / before + b / after);
  });
  const find = (soc: number): number => {
    let low = 0;
    let high = n - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (sorted[middle]!.soc <= soc) low = middle;
      else high = middle;
    }
    return low;
  };
  const top = sorted[n - 1]!;
  const under = sorted.findLast((point, i) => i === 0 || point.soc <= top.soc - BEYOND_SOC)!;
  const beyond = Math.max(0, (top.v - under.v) / (top.soc - under.soc));
  const v = (soc: number): number => {
    if (soc > top.soc) return top.v + beyond * (soc - top.soc);
    const i = soc <= sorted[0]!.soc ? 0 : soc >= sorted[n - 1]!.soc ? n - 2 : find(soc);
    const h = step(i);
    const x = (soc - sorted[i]!.soc) / h;
    if (x < 0) return sorted[i]!.v + tangents[i]! * x * h;
    const y = 1 - x;
    return (
      sorted[i]!.v * y * y * (1 + 2 * x) +
      sorted[i + 1]!.v * x * x * (3 - 2 * x) +
      h * x * y * (tangents[i]! * y - tangents[i + 1]! * x)
    );
  };
  const hysteresisV = (soc: number): number => {
    const i = find(Math.min(Math.max(soc, sorted[0]!.soc), sorted[n - 1]!.soc));
    const share = Math.min(1, Math.max(0, (soc - sorted[i]!.soc) / step(i)));
    return (
      (sorted[i]!.hysteresisV ?? Number.NaN) * (1 - share) +
      (sorted[i + 1]!.hysteresisV ?? Number.NaN) * share
    );
  };
  const lowSoc = sorted[0]!.soc;
  const highSoc = sorted[n - 1]!.soc;
  return {
    v,
    slope: (soc) =>
      Math.min(STEEPEST_V, Math.max(0, (v(soc + SLOPE_SOC) - v(soc - SLOPE_SOC)) / (2 * SLOPE_SOC))),
    hysteresisV,
    inverse: (volts) => inverseOf(v, volts, lowSoc - 0.05, highSoc + 0.05),
    lowSoc,
    highSoc,
    points: n,
  };
}

/** Where a rising curve takes a value; the nearer end when it does not within the range. */
export function inverseOf(curve: (x: number) => number, value: number, low: number, high: number): number {
  let [a, b] = [low, high];
  for (let i = 0; i < 60; i++) {
    const middle = (a + b) / 2;
    if (curve(middle) < value) a = middle;
    else b = middle;
  }
  return (a + b) / 2;
}
