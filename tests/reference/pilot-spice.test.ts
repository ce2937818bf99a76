/**
 * The pilot circuit in a SPICE engine against our simulator and our estimator, on circuits drawn at random from
 * a seed; and the worked examples of the pilot loop.
 */

import { type PilotCircuit, seenFromCharger, settledPeriod } from '../../simulators/pilot-circuit.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { loopFromWaveform } from '../../src/checks/loop-waveform.js';
import { LIMITS } from './loop-cases.js';
import { reference } from './reference.js';
import { readAt, transient } from './spice.js';

const CIRCUITS = 10;
const PERIODS = 20;
const POINTS = 100;
/** Thermal voltage at the engine's 27 °C: its emission coefficient is our slope over this. */
const THERMAL_V = (1.380649e-23 * 300.15) / 1.602176634e-19;

function draw(random: SeededRandom): PilotCircuit {
  return {
    sourceVrms: random.between(8, 24),
    frequencyHz: random.between(62, 140),
    sourceOhm: random.between(500, 1500),
    coreOhm: random.between(10, 60),
    coreHenry: random.between(1e-6, 1e-4),
    cableFarad: random.between(2e-10, 3e-9),
    leakOhm: random.unit() < 0.25 ? 1e9 : 800 * 50 ** random.unit(),
    leakAt: random.unit(),
    diode: { kind: 'exponential', dropV: random.between(0.5, 0.85), slopeV: random.between(0.026, 0.05) },
    crushOhm: Number.POSITIVE_INFINITY,
    reversed: random.unit() < 0.2,
  };
}

function netlist(c: PilotCircuit): string {
  if (c.diode.kind !== 'exponential') throw new Error('the engine takes exponential diodes');
  const { dropV, slopeV } = c.diode;
  const saturationA = 0.01 / (Math.exp(dropV / slopeV) - 1);
  const [first, second] = [c.leakAt, 1 - c.leakAt];
  const period = 1 / c.frequencyHz;
  const crush = Number.isFinite(c.crushOhm) ? `rcrush far 0 ${Math.max(1e-3, c.crushOhm)}` : '';
  return [
    `vsource in 0 sin(0 ${Math.SQRT2 * c.sourceVrms} ${c.frequencyHz})`,
    `rsource in near ${c.sourceOhm}`,
    `cnear near 0 ${c.cableFarad / 2}`,
    `r1 near a ${c.coreOhm * first + 1e-6}`,
    `l1 a leak ${c.coreHenry * first + 1e-12}`,
    `rleak leak 0 ${c.leakOhm}`,
    `r2 leak b ${c.coreOhm * second + 1e-6}`,
    `l2 b far ${c.coreHenry * second + 1e-12}`,
    c.reversed ? 'ddiode 0 far pilot' : 'ddiode far 0 pilot',
    crush,
    `cfar far 0 ${c.cableFarad / 2}`,
    `.model pilot d(is=${saturationA} n=${slopeV / THERMAL_V} rs=0 cjo=0 tt=0)`,
    '.options reltol=1e-6 abstol=1e-13 vntol=1e-9 gmin=1e-15 method=gear',
    `.tran ${period / 2000} ${(PERIODS + 1) * period} 0 ${period / 2000}`,
  ].join('\n');
}

/** Source current at even spacing, after one period to settle. */
async function spiceCurrent(c: PilotCircuit): Promise<{ timeS: Float64Array; currentA: Float64Array }> {
  const run = await transient(netlist(c));
  const period = 1 / c.frequencyHz;
  const timeS = Float64Array.from({ length: PERIODS * POINTS }, (_, k) => (k * period) / POINTS);
  const at = timeS.map((t) => t + period);
  return { timeS, currentA: readAt(run.timeS, run.of('i(vsource)'), at).map((x) => -x) };
}

const random = new SeededRandom(4711);
for (let k = 1; k <= CIRCUITS; k++) {
  const circuit = draw(random);
  const { seriesOhm, shuntOhm } = seenFromCharger(circuit);
  const name =
    `circuit ${k} (${circuit.coreOhm.toFixed(1)} Ω, leak ${circuit.leakOhm > 1e8 ? 'none' : `${circuit.leakOhm.toFixed(0)} Ω`} ` +
    `at ${circuit.leakAt.toFixed(2)}${circuit.reversed ? ', reversed' : ''})`;
  const recorded = (() => {
    let once: ReturnType<typeof spiceCurrent> | null = null;
    return () => (once ??= spiceCurrent(circuit));
  })();
  const peakA = async (): Promise<number> => Math.max(...(await recorded()).currentA.map(Math.abs));
  /** Where in the period both part most. */
  const worst = async (): Promise<{ ours: number; theirs: number }> => {
    const { currentA } = await recorded();
    const ours = settledPeriod(circuit, POINTS, 2000);
    let at = 0;
    for (let n = 0; n < currentA.length; n++) {
      const apart = Math.abs(ours[n % POINTS]! - currentA[n]!);
      if (apart > Math.abs(ours[at % POINTS]! - currentA[at]!)) at = n;
    }
    return { ours: ours[at % POINTS]!, theirs: currentA[at]! };
  };
  const measured = async () => {
    const { timeS, currentA } = await recorded();
    return loopFromWaveform(timeS, currentA, {
      ...LIMITS,
      sourceVrms: circuit.sourceVrms,
      sourceOhm: circuit.sourceOhm,
      frequencyHz: circuit.frequencyHz,
    });
  };
  const common = { source: 'SPICE engine, same circuit', trust: 'computed' } as const;
  reference({
    quantity: `pilot current where it parts most, ${name}`,
    unit: 'A',
    ours: async () => (await worst()).ours,
    reference: async () => (await worst()).theirs,
    tolerance: { share: 0.005, of: peakA },
    ...common,
  });
  reference({
    quantity: `pilot series from SPICE's waveform, ${name}`,
    unit: 'Ω',
    ours: async () => (await measured()).seriesOhm.value,
    reference: () => seriesOhm,
    tolerance: { share: 0.005 },
    ...common,
  });
  if (circuit.leakOhm > 1e8) continue;
  reference({
    quantity: `pilot shunt from SPICE's waveform, ${name}`,
    unit: 'Ω',
    ours: async () => (await measured()).shuntOhm.value,
    reference: () => shuntOhm,
    tolerance: { share: 0.005 },
    ...common,
  });
}
