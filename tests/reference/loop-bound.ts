/**
 * The Cramér–Rao bound of a pilot recording: no unbiased estimate of series and shunt resistance can have a
 * smaller variance. From the simulator's own response to small changes of every unknown, and the true noise.
 *
 * Unknown are series and leak, the diode's drop and slope, the cable's capacitance, phase and frequency, and
 * amplitude, phase and frequency of each pick-up. What is known beforehand about diode and cable counts as it
 * does for any engineer: the drop the rig states ± 0.1 V, 35 ± 20 mV for each e-fold, 0 ± 20 nF.
 */
import type { PilotCircuit } from '../../simulators/pilot-circuit.js';
import { recordPilot } from '../../simulators/pilot-recording.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { LoopCase } from './loop-cases.js';

const KNOWN = { dropV: 0.1, slopeV: 0.02, farad: 2e-8 };
/** A sharp corner stands for the piecewise diode, so that its slope has a derivative. */
const SHARP_V = 0.003;
/** Weaker pick-up than this (energy over noise) neither shows nor matters. */
const SEEN = 10;

export interface LoopBound {
  readonly seriesOhm: number;
  readonly shuntS: number;
}

/** Standard deviations at the bound. */
export function loopBound(c: LoopCase): LoopBound {
  const { diode } = c.circuit;
  const base = {
    series: c.seriesOhm,
    leakS: 1 / c.shuntOhm,
    dropV: diode.dropV,
    slopeV: diode.kind === 'exponential' ? diode.slopeV : SHARP_V,
    farad: c.circuit.cableFarad,
    phase: c.phase,
    hertz: c.circuit.frequencyHz,
  };
  const wave = (p: typeof base): Float64Array => {
    const circuit: PilotCircuit = {
      ...c.circuit,
      coreOhm: p.series,
      leakOhm: p.leakS > 0 ? 1 / p.leakS : Number.POSITIVE_INFINITY,
      leakAt: 0,
      diode: { kind: 'exponential', dropV: p.dropV, slopeV: p.slopeV },
      cableFarad: p.farad,
      frequencyHz: p.hertz,
      reversed: false,
    };
    // Derivatives need no fine corner.
    const plan = {
      stepsPerPeriod: 2000,
      circuit,
      sampleHz: c.sampleHz,
      samples: c.samples,
      phase: p.phase,
      noiseA: 0,
      pickUp: [],
      bounces: [],
    };
    return recordPilot(plan, new SeededRandom(1)).currentA;
  };
  const steps: Record<keyof typeof base, number> = {
    series: 0.5,
    leakS: 1e-6,
    dropV: 5e-3,
    slopeV: Math.min(1e-3, base.slopeV / 5),
    farad: 1e-10,
    phase: 1e-3,
    hertz: base.hertz * 1e-5,
  };
  const columns = (Object.keys(base) as (keyof typeof base)[]).map((name) => {
    // The leak may be none at all: one-sided, upward.
    const low = name === 'leakS' ? base : { ...base, [name]: base[name] - steps[name] };
    const high = { ...base, [name]: base[name] + steps[name] };
    const span = high[name] - low[name];
    const a = wave(low);
    return wave(high).map((x, k) => (x - a[k]!) / span);
  });
  for (const p of c.pickUp) {
    if (!((p.amplitudeA ** 2 * c.samples) / 4 / c.noiseA ** 2 > SEEN)) continue;
    const omega = 2 * Math.PI * p.frequencyHz;
    const t = c.recording.timeS;
    columns.push(t.map((x) => Math.sin(omega * x + p.phase)));
    columns.push(t.map((x) => p.amplitudeA * Math.cos(omega * x + p.phase)));
    columns.push(t.map((x) => p.amplitudeA * 2 * Math.PI * x * Math.cos(omega * x + p.phase)));
  }
  const n = columns.length;
  const information = Array.from({ length: n }, (_, i) =>
    Array.from({ length: n }, (_, j) => {
      let sum = 0;
      for (let k = 0; k < c.samples; k++) sum += columns[i]![k]! * columns[j]![k]!;
      return sum / c.noiseA ** 2;
    }),
  );
  information[2]![2]! += KNOWN.dropV ** -2;
  information[3]![3]! += KNOWN.slopeV ** -2;
  information[4]![4]! += KNOWN.farad ** -2;
  return { seriesOhm: Math.sqrt(solved(information, 0)), shuntS: Math.sqrt(solved(information, 1)) };
}

/** Diagonal element `at` of the inverse, by elimination on the scaled matrix. */
function solved(matrix: readonly (readonly number[])[], at: number): number {
  const n = matrix.length;
  const scale = matrix.map((row, i) => 1 / Math.sqrt(row[i]!));
  const m = matrix.map((row, i) => [...row.map((x, j) => x * scale[i]! * scale[j]!), i === at ? 1 : 0]);
  for (let i = 0; i < n; i++) {
    let pivot = i;
    for (let k = i; k < n; k++) if (Math.abs(m[k]![i]!) > Math.abs(m[pivot]![i]!)) pivot = k;
    [m[i], m[pivot]] = [m[pivot]!, m[i]!];
    for (let k = 0; k < n; k++) {
      if (k === i) continue;
      const f = m[k]![i]! / m[i]![i]!;
      for (let j = i; j <= n; j++) m[k]![j]! -= f * m[i]![j]!;
    }
  }
  return (m[at]![n]! / m[at]![at]!) * scale[at]! ** 2;
}
