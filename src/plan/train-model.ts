/**
 * A train at a stop, for planning: the rafts of the simulator on one bus, the cable and contacts before them, and the
 * converter's losses. Nothing is drawn.
 */
import { Cable } from '../../simulators/cable.js';
import { Raft } from '../../simulators/raft.js';
import type { SeededRandom } from '../../simulators/seeded-random.js';
import type { Rig } from '../rig/schema.js';

export interface StopStart {
  readonly soc: number;
  readonly cellC: number;
  readonly ambientC: number;
}

/** Of a new train; what the simulator draws from at random lies about it. */
const SPREAD_V = 0.0055;

/** The hottest raft decides: of so many that lie evenly between two bounds, where the greatest is to be expected. */
const greatestOf = (count: number): SeededRandom =>
  ({
    between: (low: number, high: number) => low + ((high - low) * count) / (count + 1),
  }) as SeededRandom;

export interface Flow {
  readonly trainV: number;
  readonly outputV: number;
  /** By raft; 0 for one that is not joined. */
  readonly packA: readonly number[];
  /** To the terminals of the rafts. */
  readonly batteryW: number;
  readonly supplyW: number;
  /** Made into heat: converter; cable and contacts; in the rafts themselves. */
  readonly lossW: { readonly converter: number; readonly line: number; readonly rafts: number };
}

export class TrainModel {
  readonly rafts: readonly Raft[];
  readonly cable: Cable;
  /** Battery rafts: a generator takes no part. */
  readonly joined: readonly number[];
  readonly #rig: Rig;

  constructor(rig: Rig, { soc, cellC, ambientC }: StopStart) {
    this.#rig = rig;
    const { raft, rafts } = rig.battery;
    const expected = greatestOf(rafts.length);
    this.rafts = rafts.map(
      ({ kind }) => new Raft(raft, kind, { soc, cellC, ambientC, spreadV: SPREAD_V }, expected),
    );
    this.joined = rig.battery.rafts.flatMap(({ kind }, i) => (kind === 'battery' ? [i] : []));
    this.cable = new Cable(rig, ambientC);
  }

  get soc(): number {
    return this.joined.reduce((sum, i) => sum + this.rafts[i]!.soc, 0) / this.joined.length;
  }
  get hottestCellC(): number {
    return Math.max(...this.joined.map((i) => this.rafts[i]!.cellMaxC()));
  }
  /** Mean over the rafts, of their mean cells. */
  get cellC(): number {
    return this.joined.reduce((sum, i) => sum + this.rafts[i]!.cellC, 0) / this.joined.length;
  }

  /** How a current on the bus divides among the rafts, and what it costs. */
  flow(currentA: number): Flow {
    let conductance = 0;
    let sourceA = 0;
    for (const i of this.joined) {
      const raft = this.rafts[i]!;
      const siemens = 1 / raft.seriesOhm();
      conductance += siemens;
      sourceA += raft.emfV() * siemens;
    }
    const trainV = (currentA + sourceA) / conductance;
    const packA = this.rafts.map((raft, i) =>
      this.joined.includes(i) ? (trainV - raft.emfV()) / raft.seriesOhm() : 0,
    );
    const lineOhm = this.cable.poleOhm('p') + this.cable.poleOhm('n');
    const outputV = trainV + currentA * lineOhm;
    const { noLoadLossW, lossVoltsPerA } = this.#rig.converter;
    const converterW = currentA > 0 ? noLoadLossW + lossVoltsPerA * currentA : 0;
    const raftsW = packA.reduce((sum, a, i) => sum + a * (trainV - this.#openV(i)), 0);
    return {
      ...{ trainV, outputV, packA },
      batteryW: trainV * currentA,
      supplyW: outputV * currentA + converterW,
      lossW: { converter: converterW, line: currentA * currentA * lineOhm, rafts: Math.max(0, raftsW) },
    };
  }

  step(stepS: number, { packA }: Flow, currentA: number): void {
    for (const i of this.joined) this.rafts[i]!.step(stepS, packA[i]!);
    this.cable.warm(stepS, currentA * currentA);
  }

  #openV(i: number): number {
    return this.#rig.battery.raft.seriesCells * this.rafts[i]!.ocvCellV();
  }
}
