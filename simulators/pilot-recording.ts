/**
 * What an oscilloscope at the pilot source records: the circuit's current at the sampling instants, with
 * noise, mains and rectifier-ripple pick-up, and a contact that bounces.
 */
import { type PilotCircuit, PilotStepper } from './pilot-circuit.js';
import type { SeededRandom } from './seeded-random.js';

export interface PickUp {
  readonly frequencyHz: number;
  readonly amplitudeA: number;
  readonly phase: number;
}

/** While open the source resistor carries nothing but the pick-up. */
export interface Bounce {
  readonly fromS: number;
  readonly toS: number;
}

export interface PilotRecordingPlan {
  readonly circuit: PilotCircuit;
  readonly sampleHz: number;
  readonly samples: number;
  /** Phase of the source at the first sample. */
  readonly phase: number;
  /** Standard deviation, white and normal. */
  readonly noiseA: number;
  readonly pickUp: readonly PickUp[];
  readonly bounces: readonly Bounce[];
  /** Default 8000. */
  readonly stepsPerPeriod?: number;
}

export interface PilotRecording {
  readonly timeS: Float64Array;
  readonly currentA: Float64Array;
}

/** Steps a period: between two of them the source moves by a fraction of what the diode's corner is wide. */
const STEPS_PER_PERIOD = 8000;

export function recordPilot(plan: PilotRecordingPlan, random: SeededRandom): PilotRecording {
  const timeS = Float64Array.from({ length: plan.samples }, (_, k) => k / plan.sampleHz);
  const currentA = plan.bounces.length > 0 ? stepped(plan) : fromPeriod(plan, timeS);
  for (let k = 0; k < currentA.length; k++) {
    let extra = plan.noiseA * random.gaussian();
    for (const p of plan.pickUp)
      extra += p.amplitudeA * Math.sin(2 * Math.PI * p.frequencyHz * timeS[k]! + p.phase);
    currentA[k] = currentA[k]! + extra;
  }
  return { timeS, currentA };
}

/** A settled loop repeats: one period in fine steps, read between them. */
function fromPeriod(plan: PilotRecordingPlan, timeS: Float64Array): Float64Array {
  const { circuit, phase, stepsPerPeriod: n = STEPS_PER_PERIOD } = plan;
  const stepper = new PilotStepper(circuit, 1 / circuit.frequencyHz / n);
  for (let k = 0; k < n; k++) stepper.step();
  const table = Float64Array.from({ length: n + 1 }, () => stepper.step());
  return timeS.map((t) => {
    const periods = t * circuit.frequencyHz + phase / (2 * Math.PI);
    // The table starts one step after the whole period.
    const at = ((periods - Math.floor(periods)) * n - 1 + n) % n;
    const k = Math.floor(at);
    return table[k]! + (at - k) * (table[k + 1]! - table[k]!);
  });
}

/** Step by step from a settled start, where something happens in between. */
function stepped(plan: PilotRecordingPlan): Float64Array {
  const { circuit, sampleHz, samples, phase, bounces, stepsPerPeriod = STEPS_PER_PERIOD } = plan;
  const stride = Math.max(1, Math.ceil((stepsPerPeriod * circuit.frequencyHz) / sampleHz));
  const stepS = 1 / sampleHz / stride;
  const settle = Math.ceil(1 / circuit.frequencyHz / stepS);
  const stepper = new PilotStepper(
    circuit,
    stepS,
    phase / (2 * Math.PI * circuit.frequencyHz) - settle * stepS,
  );
  const currentA = new Float64Array(samples);
  for (let k = 1; k <= settle + (samples - 1) * stride; k++) {
    const t = (k - settle) * stepS;
    const current = stepper.step(!bounces.some((b) => t >= b.fromS && t < b.toS));
    const n = (k - settle) / stride;
    if (Number.isInteger(n) && n >= 0) currentA[n] = current;
  }
  return currentA;
}
