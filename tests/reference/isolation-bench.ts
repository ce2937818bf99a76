/**
 * Recordings of the known-resistor method on networks drawn from a seed, as a logger would make them: the poles'
 * volts come from the simulators' nodal network, the voltmeters add noise and steps. Nothing here knows the
 * closed form the estimator fits.
 */
import { CHASSIS, Network, NODE } from '../../simulators/network.js';
import type { SeededRandom } from '../../simulators/seeded-random.js';
import type { PoleRecording, ResistorAt } from '../../src/checks/isolation-record.js';

export interface PoleNetwork {
  readonly positiveOhm: number;
  readonly negativeOhm: number;
  readonly positiveF: number;
  readonly negativeF: number;
}

export interface Bench {
  readonly knownOhm: number;
  readonly meterOhm: number;
  readonly packV: number;
  /** Deviation of each figure: fixed part and share of the reading. */
  readonly noiseV: number;
  readonly noiseShare: number;
  /** Steps of the voltmeters over −1000 V to 1000 V, bits; 0 for none. */
  readonly bits: number;
}

export interface Position {
  readonly at: ResistorAt;
  readonly seconds: number;
}

/** Time constant with the known resistor on a pole, s. */
export function settlingS(network: PoleNetwork, { knownOhm, meterOhm }: Bench): number {
  const { positiveOhm, negativeOhm, positiveF, negativeF } = network;
  return (positiveF + negativeF) / (1 / positiveOhm + 1 / negativeOhm + 1 / knownOhm + 2 / meterOhm);
}

const FULL_SCALE_V = 1000;
const PACK_OHM = 1;

/** A network with its voltmeters and the switched resistor, stepped in time. */
export class PoleBench {
  readonly #net: Network;
  readonly #known: Readonly<Record<'pos' | 'neg', number>>;
  readonly #bench: Bench;
  readonly #random: SeededRandom;

  constructor(network: PoleNetwork, bench: Bench, stepS: number, random: SeededRandom) {
    const net = new Network(stepS);
    for (const node of Object.values(NODE)) net.addBranch(node, CHASSIS, 1e-15);
    const { trainP, trainN } = NODE;
    net.setEmf(net.addBranch(trainP, trainN, 1 / PACK_OHM), bench.packV);
    net.addBranch(trainP, CHASSIS, 1 / network.positiveOhm + 1 / bench.meterOhm);
    net.addBranch(trainN, CHASSIS, 1 / network.negativeOhm + 1 / bench.meterOhm);
    net.addCapacitor(trainP, CHASSIS, network.positiveF);
    net.addCapacitor(trainN, CHASSIS, network.negativeF);
    this.#known = { pos: net.addBranch(trainP, CHASSIS, 0), neg: net.addBranch(trainN, CHASSIS, 0) };
    this.#net = net;
    this.#bench = bench;
    this.#random = random;
  }

  /** @param positiveV of the positive pole against chassis */
  start(positiveV: number): void {
    this.#net.volts[NODE.trainP] = positiveV;
    this.#net.volts[NODE.trainN] = positiveV - this.#bench.packV;
  }

  /** Some steps with the resistor in this position, then what the voltmeters read. */
  run(at: ResistorAt, steps: number): { readonly positiveV: number; readonly negativeV: number } {
    const net = this.#net;
    for (const pole of ['pos', 'neg'] as const)
      net.setConductance(this.#known[pole], at === pole ? 1 / this.#bench.knownOhm : 0);
    for (let k = 0; k < steps; k++) net.prepare();
    return {
      positiveV: this.#read(net.volts[NODE.trainP]!),
      negativeV: this.#read(net.volts[NODE.trainN]!),
    };
  }

  #read(volts: number): number {
    const { noiseV, noiseShare, bits } = this.#bench;
    const noisy = volts + this.#random.gaussian() * (noiseV + noiseShare * Math.abs(volts));
    const stepV = (2 * FULL_SCALE_V) / 2 ** bits;
    return bits > 0 ? stepV * Math.round(noisy / stepV) : noisy;
  }
}

/**
 * @param startV of the positive pole against chassis when the record begins
 * @param rowS spacing of the rows
 * @param steps of the integration within each row
 */
export function recordPoles(
  network: PoleNetwork,
  bench: Bench,
  positions: readonly Position[],
  rowS: number,
  steps: number,
  startV: number,
  random: SeededRandom,
): PoleRecording {
  const poles = new PoleBench(network, bench, rowS / steps, random);
  poles.start(startV);
  const timeS: number[] = [];
  const positiveV: number[] = [];
  const negativeV: number[] = [];
  const resistor: ResistorAt[] = [];
  for (const { at, seconds } of positions)
    for (let k = 0; k < Math.round(seconds / rowS); k++) {
      const read = poles.run(at, steps);
      timeS.push((timeS.length + 1) * rowS);
      positiveV.push(read.positiveV);
      negativeV.push(read.negativeV);
      resistor.push(at);
    }
  return { timeS, positiveV, negativeV, resistor };
}

/** 10 kΩ to 10 MΩ and 10 nF to 2 µF a pole, evenly over the logarithm; every fifth with both leaks alike. */
export function drawNetwork(random: SeededRandom, index: number): PoleNetwork {
  const spread = (low: number, high: number): number =>
    Math.exp(random.between(Math.log(low), Math.log(high)));
  const positiveOhm = spread(10e3, 10e6);
  const negativeOhm = spread(10e3, 10e6);
  return {
    positiveOhm,
    negativeOhm: index % 5 === 0 ? positiveOhm : negativeOhm,
    positiveF: spread(10e-9, 2e-6),
    negativeF: spread(10e-9, 2e-6),
  };
}
