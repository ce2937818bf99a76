/** Pilot currents of stated loops on a 12 V r.m.s., 1000 Ω source: figures for the tests of the loop. */

/**
 * Mean and r.m.s. of the two half waves that the check takes the loop for, summed over one period: a·(sin θ − κ)
 * while that is positive, b·sin θ in the other half. Loop and shunt lie beside each other in the first.
 */
export function halfWaves(seriesOhm: number, shuntOhm: number, dropV: number) {
  const peakV = 12 * Math.SQRT2;
  const a = peakV / (1000 + 1 / (1 / seriesOhm + 1 / shuntOhm));
  const b = Number.isFinite(shuntOhm) ? peakV / (1000 + shuntOhm) : 0;
  const n = 40_000;
  let sum = 0;
  let squares = 0;
  for (let k = 0; k < n; k++) {
    const sine = Math.sin((2 * Math.PI * (k + 0.5)) / n);
    const i = sine > 0 ? a * Math.max(0, sine - dropV / peakV) : b * sine;
    sum += i;
    squares += i * i;
  }
  return { a, b, meanA: sum / n, rmsA: Math.sqrt(squares / n), peakPositiveA: a, peakNegativeA: -b };
}
