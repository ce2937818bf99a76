/**
 * Random pilot recordings with their truth, drawn from the simulator, and the least uncertainty anyone could
 * reach on each. Nothing here knows how the estimator works.
 */
import { type Diode, type PilotCircuit, seenFromCharger } from '../../simulators/pilot-circuit.js';
import { type PickUp, type PilotRecording, recordPilot } from '../../simulators/pilot-recording.js';
import type { SeededRandom } from '../../simulators/seeded-random.js';

export const CLASSES = [
  'genuine',
  'between',
  'leaky',
  'high-resistance',
  'crushed',
  'open',
  'reversed',
  'bouncing',
] as const;
export type LoopClass = (typeof CLASSES)[number];

export interface LoopCase {
  readonly kind: LoopClass;
  readonly circuit: PilotCircuit;
  readonly noiseA: number;
  readonly pickUp: readonly PickUp[];
  readonly phase: number;
  readonly sampleHz: number;
  readonly samples: number;
  readonly periods: number;
  readonly recording: PilotRecording;
  readonly seriesOhm: number;
  readonly shuntOhm: number;
}

/** The source and limits all cases share; those of the shipped cable rigs. */
export const LIMITS = {
  sourceVrms: 12,
  sourceOhm: 1000,
  coreOhm: 20,
  diodeDropV: 0.7,
  samplesPerPeriod: 50,
  periodsPerWindow: 4,
  maxSeriesOhm: 45,
  minShuntOhm: 1250,
  genuineShuntOhm: 3000,
};

/** Two in five are genuine: refusing a sound loop is as much a fault as passing a bad one. */
const DRAW: readonly (readonly [LoopClass, number])[] = [
  ['genuine', 0.4],
  ['between', 0.15],
  ['leaky', 0.15],
  ['high-resistance', 0.1],
  ['crushed', 0.06],
  ['open', 0.06],
  ['reversed', 0.05],
  ['bouncing', 0.03],
];

function kindOf(share: number): LoopClass {
  let left = share;
  for (const [kind, part] of DRAW) {
    if (left < part) return kind;
    left -= part;
  }
  return 'genuine';
}

/** As the rig loader demands: 5 Hz from any multiple of 50 and 60 Hz. */
function pilotHz(random: SeededRandom): number {
  for (let k = 0; k < 1000; k++) {
    const hertz = random.between(55, 145);
    const clear = [50, 60].every((m) => Math.abs(hertz - Math.max(1, Math.round(hertz / m)) * m) >= 5);
    if (clear) return hertz;
  }
  return 80;
}

const logBetween = (random: SeededRandom, low: number, high: number): number =>
  low * (high / low) ** random.unit();

function diodeOf(random: SeededRandom): Diode {
  // Spread of type and temperature about the 0.7 V the rig states.
  const dropV = 0.7 + 0.08 * random.gaussian();
  if (random.unit() < 0.15) return { kind: 'piecewise', dropV, onOhm: 0 };
  return { kind: 'exponential', dropV, slopeV: random.between(0.025, 0.055) };
}

function circuitOf(kind: LoopClass, random: SeededRandom): PilotCircuit {
  const sound = random.unit() < 0.15;
  const coreOhm = kind === 'high-resistance' ? random.between(55, 500) : random.between(2, 35);
  // A leak of 3 kΩ at the charger and one smaller by the core's resistance at the diode draw the same current:
  // the guard band begins above both.
  const leakOhm =
    kind === 'leaky'
      ? random.between(300, 1250)
      : kind === 'between'
        ? random.between(1250, 3000)
        : sound || kind === 'bouncing'
          ? Number.POSITIVE_INFINITY
          : logBetween(random, 3000 + coreOhm, 1e6);
  const crushed = kind === 'crushed';
  // A crush bridges the pair anywhere along the cable, or the diode itself.
  const atDiode = random.unit() < 0.5;
  const crushOhm = random.between(0, 60);
  return {
    sourceVrms: LIMITS.sourceVrms,
    frequencyHz: pilotHz(random),
    sourceOhm: LIMITS.sourceOhm,
    coreOhm,
    coreHenry: random.between(1e-6, 1e-4),
    cableFarad: logBetween(random, 2e-10, 5e-9),
    leakOhm:
      kind === 'open'
        ? sound
          ? Number.POSITIVE_INFINITY
          : logBetween(random, 3100, 1e6)
        : crushed && !atDiode
          ? Math.max(0.1, crushOhm)
          : leakOhm,
    leakAt: random.unit(),
    diode: diodeOf(random),
    crushOhm: crushed && atDiode ? crushOhm : Number.POSITIVE_INFINITY,
    reversed: kind === 'reversed',
  };
}

/** R.m.s. of a sound loop, to which noise and pick-up are related. */
export const SOUND_RMS_A = (12 / 1020) * Math.SQRT1_2;

/** @param clean without noise and pick-up */
export function drawCase(
  random: SeededRandom,
  options: { clean?: boolean; kind?: LoopClass } = {},
): LoopCase {
  const kind = options.kind ?? kindOf(random.unit());
  const drawn = circuitOf(kind, random);
  const { frequencyHz } = drawn;
  const pointsPerPeriod = random.between(10, 200);
  const periods = random.between(20, 60);
  const sampleHz = frequencyHz * pointsPerPeriod;
  const samples = Math.ceil(periods * pointsPerPeriod) + 1;
  const noiseA = options.clean === true ? 0 : SOUND_RMS_A * logBetween(random, 0.001, 0.05);
  const mainsHz = (random.unit() < 0.5 ? 50 : 60) * random.between(0.99, 1.01);
  const pickUp: PickUp[] = [1, 6, 12].map((order) => ({
    frequencyHz: order * mainsHz,
    amplitudeA: SOUND_RMS_A * random.between(0, 0.1) * Math.SQRT2 * (order === 12 ? 0.3 : 1),
    phase: random.between(0, 2 * Math.PI),
  }));
  const phase = random.between(0, 2 * Math.PI);
  const spanS = periods / frequencyHz;
  const bounces = [];
  if (kind === 'bouncing') {
    // A contact that chatters through at least one conducting half wave.
    const fromS = random.between(0.1, 0.6) * spanS;
    for (let k = 0; k < 6; k++) {
      const at = fromS + (k * 0.7) / frequencyHz;
      bounces.push({ fromS: at, toS: at + random.between(0.3, 0.6) / frequencyHz });
    }
  }
  // An open loop draws nothing but its leak: the core broken before the diode.
  const circuit =
    kind === 'open' ? { ...drawn, diode: { kind: 'piecewise' as const, dropV: 1e3, onOhm: 0 } } : drawn;
  const recording = recordPilot(
    { circuit, sampleHz, samples, phase, noiseA, pickUp: options.clean === true ? [] : pickUp, bounces },
    random.fork('noise'),
  );
  return {
    kind,
    circuit,
    noiseA,
    pickUp: options.clean === true ? [] : pickUp,
    phase,
    sampleHz,
    samples,
    periods,
    recording,
    ...seenFromCharger(circuit),
  };
}
