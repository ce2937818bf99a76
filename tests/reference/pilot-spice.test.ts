/**
 * The pilot circuit in a SPICE engine against our simulator and our estimator, on circuits drawn at random from
 * a seed; and the worked examples of the pilot loop.
 */

import { type PilotCircuit, seenFromCharger, settledPeriod } from '../../simulators/pilot-circuit.js';
import { loopCurrentA, SOUND_LOOP } from '../../simulators/pilot-loop.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { loopFromWaveform } from '../../src/checks/loop-waveform.js';
import { LIMITS } from './loop-cases.js';
import { reference } from './reference.js';
import { readAt, transient } from './spice.js';

const CIRCUITS = 7;
const PERIODS = 20;
const POINTS = 100;
/** Longest step the engine may take, in parts of a period. */
const STEPS = 1000;
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
    `.tran ${period / STEPS} ${(PERIODS + 1) * period} 0 ${period / STEPS}`,
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

/** One run serves all rows of a circuit. */
const once = <T>(make: () => Promise<T>): (() => Promise<T>) => {
  let made: Promise<T> | null = null;
  return () => (made ??= make());
};
const peakOf = (x: Float64Array): number => Math.max(...x.map(Math.abs));

/** A row for the instant at which a period of ours and the engine's current part most. */
function waveRow(name: string, ours: () => Float64Array, theirs: () => Promise<Float64Array>): void {
  const worst = once(async () => {
    const [mine, reference_] = [ours(), await theirs()];
    let at = 0;
    const apart = (n: number): number => Math.abs(mine[n % POINTS]! - reference_[n]!);
    for (let n = 0; n < reference_.length; n++) if (apart(n) > apart(at)) at = n;
    return { ours: mine[at % POINTS]!, theirs: reference_[at]! };
  });
  reference({
    quantity: `pilot current where it parts most, ${name}`,
    unit: 'A',
    ours: async () => (await worst()).ours,
    reference: async () => (await worst()).theirs,
    tolerance: { share: 0.005, of: async () => peakOf(await theirs()) },
    ...SPICE,
  });
}

const SPICE = { source: 'SPICE engine, same circuit', trust: 'computed' } as const;

const random = new SeededRandom(4711);
for (let k = 1; k <= CIRCUITS; k++) {
  const circuit = draw(random);
  const { seriesOhm, shuntOhm } = seenFromCharger(circuit);
  const leak =
    circuit.leakOhm > 1e8
      ? 'no leak'
      : `leak ${circuit.leakOhm.toFixed(0)} Ω at ${circuit.leakAt.toFixed(2)}`;
  const name = `circuit ${k} (${circuit.coreOhm.toFixed(1)} Ω, ${leak}${circuit.reversed ? ', reversed' : ''})`;
  const recorded = once(() => spiceCurrent(circuit));
  waveRow(
    name,
    () => settledPeriod(circuit, POINTS, 2000),
    async () => (await recorded()).currentA,
  );
  const measured = once(async () => {
    const { timeS, currentA } = await recorded();
    return loopFromWaveform(timeS, currentA, {
      ...LIMITS,
      sourceVrms: circuit.sourceVrms,
      sourceOhm: circuit.sourceOhm,
      frequencyHz: circuit.frequencyHz,
    });
  });
  reference({
    quantity: `pilot series from the engine's waveform, ${name}`,
    unit: 'Ω',
    ours: async () => (await measured()).seriesOhm.value,
    reference: () => seriesOhm,
    tolerance: { share: 0.005 },
    ...SPICE,
  });
  if (circuit.leakOhm > 1e8) continue;
  reference({
    quantity: `pilot shunt from the engine's waveform, ${name}`,
    unit: 'Ω',
    ours: async () => (await measured()).shuntOhm.value,
    reference: () => shuntOhm,
    tolerance: { share: 0.005 },
    ...SPICE,
  });
}

// The bench's own quick loop: no inductance, no capacitance, the leak at the charger, a diode of 50 mV an e-fold.
for (const [name, state] of [
  ['sound', {}],
  ['leak 1250 Ω', { shuntOhm: 1250 }],
  ['diode bridged by 20 Ω', { crushOhm: 20 }],
  ['reversed', { reversed: true }],
] as const) {
  const circuit: PilotCircuit = {
    sourceVrms: 12,
    frequencyHz: 80,
    sourceOhm: 1000,
    coreOhm: 45,
    coreHenry: 0,
    cableFarad: 0,
    leakOhm: 'shuntOhm' in state ? state.shuntOhm : 1e9,
    leakAt: 0,
    diode: { kind: 'exponential', dropV: 0.7, slopeV: 0.05 },
    crushOhm: 'crushOhm' in state ? state.crushOhm : Number.POSITIVE_INFINITY,
    reversed: 'reversed' in state,
  };
  const pilot = { ...LIMITS, coreOhm: 45, frequencyHz: 80 };
  const full = { ...SOUND_LOOP, sourceOn: true, ...state };
  const theirs = once(async () => (await spiceCurrent(circuit)).currentA);
  waveRow(
    `quick loop, ${name}`,
    () =>
      Float64Array.from({ length: POINTS }, (_, k) =>
        loopCurrentA(Math.SQRT2 * 12 * Math.sin((2 * Math.PI * k) / POINTS), pilot, full),
      ),
    theirs,
  );
  waveRow(`full loop, ${name}`, () => settledPeriod(circuit, POINTS, 2000), theirs);
}
