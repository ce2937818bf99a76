/**
 * The pilot loop at full depth, stepped in time: source and its resistance; a cable of two equal parts with
 * series resistance and inductance, its capacitance lumped at both ends; a leak between the parts; at the far
 * end the diode, perhaps bridged by a crush.
 *
 *   source ─ sourceOhm ─┬─ R₁ L₁ ─┬─ R₂ L₂ ─┬───┬── far
 *                       C/2       leak     diode crush, C/2       R₁ : R₂ = leakAt : 1 − leakAt
 *
 * Stepped by the second-order backward difference formula (Gear): stable for time constants far below the step,
 * which those of a cable are. Each step reduces the linear part to one source behind one resistance, seen from
 * the diode, and solves the diode's curve against that line.
 */

/** Exponential: forward volts at 10 mA, and volts for each e-fold of current (emission × thermal voltage). */
export interface ExponentialDiode {
  readonly kind: 'exponential';
  readonly dropV: number;
  readonly slopeV: number;
}
/** Piecewise: nothing below its drop, a resistance above. An ideal diode is 0 V, 0 Ω. */
export interface PiecewiseDiode {
  readonly kind: 'piecewise';
  readonly dropV: number;
  readonly onOhm: number;
}
export type Diode = ExponentialDiode | PiecewiseDiode;

export interface PilotCircuit {
  readonly sourceVrms: number;
  readonly frequencyHz: number;
  readonly sourceOhm: number;
  /** Pilot core and its return. */
  readonly coreOhm: number;
  readonly coreHenry: number;
  /** Core to return, whole cable. */
  readonly cableFarad: number;
  /** Between core and return; Infinity when sound. */
  readonly leakOhm: number;
  /** Where the leak sits: 0 at the charger, 1 at the diode. */
  readonly leakAt: number;
  readonly diode: Diode;
  /** Across the diode; Infinity when sound. */
  readonly crushOhm: number;
  readonly reversed: boolean;
}

/** The current at which an exponential diode drops its stated volts. */
const STATED_A = 0.01;
/** A joint, so that no branch is without resistance. */
const LEAST_OHM = 1e-6;
/** Insulation of the source end, so that an open contact leaves no node floating. */
const LEAST_S = 1e-12;
/** Newton needs two or three. */
const MAX_ROUNDS = 50;
/** Newton squares its error each round: a change this small leaves nothing to the next. */
const LAST_CHANGE_V = 1e-8;
/** Blocking by more than this many slopes, an exponential diode lets through its saturation current and no more. */
const BLOCKING = 40;

/** What the source looks like from each place of the cable, by the formula, with the contact open or closed. */
interface Ladder {
  readonly sourceS: number;
  readonly nearOhm: number;
  readonly beforeLeakS: number;
  readonly middleOhm: number;
  readonly lineS: number;
  readonly endOhm: number;
}

/** Steps one circuit through time. The contact before the cable may be opened and closed between steps. */
export class PilotStepper {
  readonly #circuit: PilotCircuit;
  readonly #stepS: number;
  readonly #peakV: number;
  readonly #polarity: 1 | -1;
  /** Conductance of each capacitor and resistance of each inductor as the formula sees them. */
  readonly #endS: number;
  readonly #firstCoilOhm: number;
  readonly #secondCoilOhm: number;
  readonly #closed: Ladder;
  readonly #open: Ladder;
  readonly #saturationA: number;
  readonly #startS: number;
  /** Last and last but one of: near volts, far volts, current of the first and of the second part. */
  #near = [0, 0] as Pair;
  #far = [0, 0] as Pair;
  #first = [0, 0] as Pair;
  #second = [0, 0] as Pair;
  #count = 0;

  /** @param startS time at which it stands, dead; the source is at phase 0 at time 0 */
  constructor(circuit: PilotCircuit, stepS: number, startS = 0) {
    this.#startS = startS;
    this.#circuit = circuit;
    this.#stepS = stepS;
    this.#peakV = Math.SQRT2 * circuit.sourceVrms;
    this.#polarity = circuit.reversed ? -1 : 1;
    const at = circuit.leakAt;
    this.#endS = (1.5 * circuit.cableFarad) / 2 / stepS;
    this.#firstCoilOhm = (1.5 * circuit.coreHenry * at) / stepS;
    this.#secondCoilOhm = (1.5 * circuit.coreHenry * (1 - at)) / stepS;
    this.#closed = this.#ladder(1 / circuit.sourceOhm);
    this.#open = this.#ladder(0);
    const { diode } = circuit;
    this.#saturationA = diode.kind === 'exponential' ? STATED_A / Math.expm1(diode.dropV / diode.slopeV) : 0;
  }

  /** From the source towards the diode: one source behind one resistance after the other. */
  #ladder(sourceS: number): Ladder {
    const { coreOhm, leakAt, leakOhm, crushOhm } = this.#circuit;
    const firstOhm = Math.max(LEAST_OHM, coreOhm * leakAt) + this.#firstCoilOhm;
    const secondOhm = Math.max(LEAST_OHM, coreOhm * (1 - leakAt)) + this.#secondCoilOhm;
    const nearOhm = 1 / (sourceS + this.#endS + LEAST_S);
    const beforeLeakS = 1 / (nearOhm + firstOhm);
    const middleOhm = 1 / (beforeLeakS + 1 / leakOhm);
    const lineS = 1 / (middleOhm + secondOhm);
    const endOhm = 1 / (lineS + this.#endS + 1 / Math.max(crushOhm, LEAST_OHM));
    return { sourceS, nearOhm, beforeLeakS, middleOhm, lineS, endOhm };
  }

  /**
   * One step on.
   * @param closed whether the contact before the cable conducts over this step
   * @returns current through the source resistor at the step's end, A
   */
  step(closed = true): number {
    this.#count += 1;
    const turn = 2 * Math.PI * this.#circuit.frequencyHz * (this.#startS + this.#count * this.#stepS);
    const sourceV = this.#polarity * this.#peakV * Math.sin(turn);
    const { sourceS, nearOhm, beforeLeakS, middleOhm, lineS, endOhm } = closed ? this.#closed : this.#open;
    const endS = this.#endS;
    const nearOpenV = (sourceS * sourceV + endS * carried(this.#near)) * nearOhm;
    const beforeLeakV = nearOpenV + this.#firstCoilOhm * carried(this.#first);
    const middleV = beforeLeakV * beforeLeakS * middleOhm;
    const lineV = middleV + this.#secondCoilOhm * carried(this.#second);
    const openV = (lineV * lineS + endS * carried(this.#far)) * endOhm;
    const farV = this.#diodeVolts(openV, endOhm);
    // And back.
    const secondA = (lineV - farV) * lineS;
    const leakV = middleV - secondA * middleOhm;
    const firstA = (beforeLeakV - leakV) * beforeLeakS;
    const nearV = nearOpenV - firstA * nearOhm;
    push(this.#near, nearV);
    push(this.#far, farV);
    push(this.#first, firstA);
    push(this.#second, secondA);
    return this.#polarity * sourceS * (sourceV - nearV);
  }

  /** Volts of the diode on a line of open volts and resistance. */
  #diodeVolts(openV: number, ohm: number): number {
    const { diode } = this.#circuit;
    if (diode.kind === 'piecewise') {
      if (openV <= diode.dropV) return openV;
      return diode.dropV + ((openV - diode.dropV) * diode.onOhm) / (ohm + diode.onOhm);
    }
    const { slopeV } = diode;
    const lineA = this.#saturationA * ohm;
    if (openV < -BLOCKING * slopeV) return openV + lineA;
    let v = openV;
    if (openV > 0) {
      // All of the line's current through the diode is too much; what that leaves of it is close.
      v = Math.min(v, slopeV * Math.log(1 + openV / lineA));
      v = Math.min(v, slopeV * Math.log(1 + (openV - v) / lineA));
    }
    for (let k = 0; k < MAX_ROUNDS; k++) {
      const flows = lineA * Math.exp(v / slopeV);
      const change = (flows - lineA + v - openV) / (flows / slopeV + 1);
      v -= change;
      if (Math.abs(change) < LAST_CHANGE_V) break;
    }
    return v;
  }
}

/** Latest first. */
type Pair = [number, number];
/** What the formula carries over from both steps before, in units of its own 3/2. */
const carried = (p: Pair): number => (2 * p[0] - 0.5 * p[1]) / 1.5;
const push = (p: Pair, value: number): void => {
  p[1] = p[0];
  p[0] = value;
};

/**
 * One period of the settled current, sample k at phase 2πk/samples.
 * @param steps steps a period, at least; taken up to a multiple of `samples`
 */
export function settledPeriod(circuit: PilotCircuit, samples: number, steps = 400): Float64Array {
  const stride = Math.max(1, Math.ceil(steps / samples));
  const perPeriod = stride * samples;
  const stepper = new PilotStepper(circuit, 1 / circuit.frequencyHz / perPeriod);
  // Time constants of a cable are microseconds: one period is more than enough to forget the start.
  for (let k = 0; k < perPeriod - 1; k++) stepper.step();
  const table = new Float64Array(samples);
  for (let n = 0; n < samples; n++) {
    table[n] = stepper.step();
    for (let k = 1; k < stride; k++) stepper.step();
  }
  return table;
}

/**
 * What the leak and the core look like from the source, wherever the leak sits: the same two-terminal network
 * with the leak at the charger's end. No current at the charger can tell the two apart.
 */
export function seenFromCharger(circuit: Pick<PilotCircuit, 'coreOhm' | 'leakOhm' | 'leakAt'>): {
  readonly seriesOhm: number;
  readonly shuntOhm: number;
} {
  const { coreOhm, leakOhm, leakAt } = circuit;
  if (!Number.isFinite(leakOhm)) return { seriesOhm: coreOhm, shuntOhm: leakOhm };
  const before = coreOhm * leakAt;
  const after = coreOhm - before;
  const scale = (leakOhm + before) / leakOhm;
  return { seriesOhm: (leakOhm + after) * scale * scale - (leakOhm + before), shuntOhm: leakOhm + before };
}
