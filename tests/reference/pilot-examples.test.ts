/** Worked example W14 of the reference values: the pilot loop of 12 V r.m.s., 1000 Ω, 45 Ω. */

import type { Diode, PilotCircuit } from '../../simulators/pilot-circuit.js';
import { recordPilot } from '../../simulators/pilot-recording.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { type LoopMeasurement, loopFromWaveform } from '../../src/checks/loop-waveform.js';
import { LIMITS } from './loop-cases.js';
import { reference } from './reference.js';

const drop = (dropV: number): Diode => ({ kind: 'piecewise', dropV, onOhm: 0 });
const LOOP: PilotCircuit = {
  sourceVrms: 12,
  frequencyHz: 80,
  sourceOhm: 1000,
  coreOhm: 45,
  coreHenry: 0,
  cableFarad: 0,
  leakOhm: Number.POSITIVE_INFINITY,
  leakAt: 0,
  diode: drop(0),
  crushOhm: Number.POSITIVE_INFINITY,
  reversed: false,
};

/** The example's circuit on the bench, and what the estimator makes of the recording. */
function measured(part: Partial<PilotCircuit>): LoopMeasurement {
  const circuit = { ...LOOP, ...part };
  const { timeS, currentA } = recordPilot(
    { circuit, sampleHz: 80 * 200, samples: 20 * 200, phase: 0, noiseA: 0, pickUp: [], bounces: [] },
    new SeededRandom(1),
  );
  return loopFromWaveform(timeS, currentA, {
    ...LIMITS,
    coreOhm: 45,
    diodeDropV: circuit.diode.dropV,
    frequencyHz: 80,
  });
}

const row = (
  quantity: string,
  unit: string,
  ours: () => number,
  value: number,
  tolerance: { share?: number; absolute?: number } = { share: 0.001 },
): void =>
  reference({
    quantity: `W14 ${quantity}`,
    unit,
    ours,
    reference: () => value,
    tolerance,
    source: 'reference values, W14 (textbook half wave)',
    trust: 'computed',
  });

/** One measurement serves all rows of a circuit. */
function once(part: Partial<PilotCircuit>): () => LoopMeasurement {
  let made: LoopMeasurement | null = null;
  return () => (made ??= measured(part));
}
const ideal = once({});
const silicon = once({ diode: drop(0.7) });
const crushed = once({ diode: drop(0.7), crushOhm: 0 });
const open = once({ diode: drop(1e3) });
const leaky = once({ leakOhm: 1250 });

const inMilli = (x: number): number => x * 1000;
row('ideal diode: mean', 'mA', () => inMilli(ideal().meanA.value), 5.169);
row('ideal diode: r.m.s.', 'mA', () => inMilli(ideal().rmsA.value), 8.12);
row('ideal diode: series', 'Ω', () => ideal().seriesOhm.value, 45, { share: 0.005 });
row('0.7 V diode: mean', 'mA', () => inMilli(silicon().meanA.value), 4.839);
row('0.7 V diode: r.m.s.', 'mA', () => inMilli(silicon().rmsA.value), 7.696);
row('0.7 V diode: series', 'Ω', () => silicon().seriesOhm.value, 45, { share: 0.005 });
row('crushed: mean', 'mA', () => inMilli(crushed().meanA.value), 0, { absolute: 0.001 });
row('crushed: r.m.s.', 'mA', () => inMilli(crushed().rmsA.value), 11.483);
row('open: mean', 'mA', () => inMilli(open().meanA.value), 0, { absolute: 0.001 });
row('open: r.m.s.', 'mA', () => inMilli(open().rmsA.value), 0, { absolute: 0.001 });
row('1.25 kΩ: asymmetry', '', () => leaky().asymmetry.value, 0.366, { absolute: 0.0005 });
row('1.25 kΩ: shunt', 'Ω', () => leaky().shuntOhm.value, 1250);
row('1.25 kΩ: upper peak', 'mA', () => inMilli(Math.max(...leaky().fittedA)), 16.264);
row('1.25 kΩ: lower peak', 'mA', () => inMilli(Math.min(...leaky().fittedA)), -7.542);
