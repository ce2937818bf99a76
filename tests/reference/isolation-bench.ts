/**
 * Recordings of the known-resistor method on networks drawn from a seed, as a logger would make them: the poles'
 * volts come from the simulators' nodal network, the voltmeters add noise and steps. Nothing here knows the
 * closed form the estimator fits.
 */
import { CHASSIS, Network, NODE } from '../../simulators/network.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
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
  const net = new Network(rowS / steps);
  for (const node of Object.values(NODE)) net.addBranch(node, CHASSIS, 1e-15);
  const { trainP, trainN } = NODE;
  net.setEmf(net.addBranch(trainP, trainN, 1 / PACK_OHM), bench.packV);
  net.addBranch(trainP, CHASSIS, 1 / network.positiveOhm + 1 / bench.meterOhm);
  net.addBranch(trainN, CHASSIS, 1 / network.negativeOhm + 1 / bench.meterOhm);
  net.addCapacitor(trainP, CHASSIS, network.positiveF);
  net.addCapacitor(trainN, CHASSIS, network.negativeF);
  const known = { pos: net.addBranch(trainP, CHASSIS, 0), neg: net.addBranch(trainN, CHASSIS, 0) };
  net.volts[trainP] = startV;
  net.volts[trainN] = startV - bench.packV;
  const stepV = bench.bits > 0 ? (2 * FULL_SCALE_V) / 2 ** bench.bits : 0;
  const read = (volts: number): number => {
    const noisy = volts + random.gaussian() * (bench.noiseV + bench.noiseShare * Math.abs(volts));
    return stepV > 0 ? stepV * Math.round(noisy / stepV) : noisy;
  };
  const timeS: number[] = [];
  const positiveV: number[] = [];
  const negativeV: number[] = [];
  const resistor: ResistorAt[] = [];
  let row = 0;
  for (const { at, seconds } of positions) {
    for (const pole of ['pos', 'neg'] as const)
      net.setConductance(known[pole], at === pole ? 1 / bench.knownOhm : 0);
    for (let k = 0; k < Math.round(seconds / rowS); k++) {
      for (let s = 0; s < steps; s++) net.prepare();
      row++;
      timeS.push(row * rowS);
      positiveV.push(read(net.volts[trainP]!));
      negativeV.push(read(net.volts[trainN]!));
      resistor.push(at);
    }
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
