/**
 * True meters: sums over the steps since the last change of the circuit. While no conductance or e.m.f. changes,
 * the energy in a branch is its conductance times the sum of squared volts, so a step only adds squares, and the
 * branches are worked out when the block is closed. Whoever changes the circuit closes the block first.
 */
import type { Circuit } from './circuit.js';
import type { Converter } from './converter.js';
import type { Ledger } from './truth.js';

/** What one closed block adds up to; the world collects blocks into its slow step. */
export class SlowSums {
  /** Steps collected. */
  steps = 0;
  /** Ampere × steps. */
  poleA = 0;
  poleA2 = 0;
  converterA = 0;
  readonly raftA: Float64Array;
  /** Joule. */
  outputJ = 0;
  lossJ = 0;
  bleedOutputJ = 0;
  bleedPlugJ = 0;

  constructor(rafts: number) {
    this.raftA = new Float64Array(rafts);
  }

  clear(): void {
    this.steps = 0;
    this.poleA = 0;
    this.poleA2 = 0;
    this.converterA = 0;
    this.raftA.fill(0);
    this.outputJ = 0;
    this.lossJ = 0;
    this.bleedOutputJ = 0;
    this.bleedPlugJ = 0;
  }
}

export class Meters {
  readonly #circuit: Circuit;
  readonly #converter: Converter;
  readonly #ledger: Ledger;
  readonly #stepS: number;
  readonly slow: SlowSums;
  #steps = 0;
  #poleP = 0;
  #poleP2 = 0;
  #poleN2 = 0;
  #lineP2 = 0;
  #lineN2 = 0;
  #output = 0;
  #output2 = 0;
  #plug2 = 0;
  #train = 0;
  #train2 = 0;
  #source = 0;
  #sourceW = 0;

  constructor(circuit: Circuit, converter: Converter, ledger: Ledger, rafts: number) {
    this.#circuit = circuit;
    this.#converter = converter;
    this.#ledger = ledger;
    this.#stepS = circuit.network.stepS;
    this.slow = new SlowSums(rafts);
  }

  /** Adds the step just made. */
  add(sourceA: number, outputV: number, plugV: number): void {
    const circuit = this.#circuit;
    const poleP = circuit.poleDropV('p');
    const poleN = circuit.poleDropV('n');
    const lineP = circuit.lineDropV('p');
    const lineN = circuit.lineDropV('n');
    const train = circuit.trainV();
    this.#steps++;
    this.#poleP += poleP;
    this.#poleP2 += poleP * poleP;
    this.#poleN2 += poleN * poleN;
    this.#lineP2 += lineP * lineP;
    this.#lineN2 += lineN * lineN;
    this.#output += outputV;
    this.#output2 += outputV * outputV;
    this.#plug2 += plugV * plugV;
    this.#train += train;
    this.#train2 += train * train;
    this.#source += sourceA;
    this.#sourceW += sourceA * outputV;
  }

  /** Turns the sums into amps and joules with the conductances that held during them. */
  close(): void {
    if (this.#steps === 0) return;
    const circuit = this.#circuit;
    const ledger = this.#ledger;
    const slow = this.slow;
    const dt = this.#stepS;
    const poleS = circuit.poleS('p');
    slow.steps += this.#steps;
    slow.poleA += poleS * this.#poleP;
    slow.poleA2 += poleS * poleS * this.#poleP2;
    slow.converterA += this.#source - circuit.rectifierS() * this.#output;
    slow.outputJ += this.#sourceW * dt;
    slow.lossJ += this.#converter.lossW(this.#source) * dt;
    slow.bleedOutputJ += circuit.bleederS('output') * this.#output2 * dt;
    slow.bleedPlugJ += circuit.bleederS('plug') * this.#plug2 * dt;
    for (let i = 0; i < slow.raftA.length; i++) {
      const g = circuit.raftS(i);
      if (g === 0) continue;
      const emfV = circuit.raftEmfV(i);
      slow.raftA[i] = slow.raftA[i]! + g * (this.#train - emfV * this.#steps);
      ledger.raftJ[i] = ledger.raftJ[i]! + g * (this.#train2 - emfV * this.#train) * dt;
    }
    ledger.contactorLossJ += (poleS * this.#poleP2 + circuit.poleS('n') * this.#poleN2) * dt;
    ledger.lineLossJ += (circuit.lineS('p') * this.#lineP2 + circuit.lineS('n') * this.#lineN2) * dt;
    ledger.rectifierLossJ += circuit.rectifierS() * this.#output2 * dt;
    this.#steps = 0;
    this.#poleP = 0;
    this.#poleP2 = 0;
    this.#poleN2 = 0;
    this.#lineP2 = 0;
    this.#lineN2 = 0;
    this.#output = 0;
    this.#output2 = 0;
    this.#plug2 = 0;
    this.#train = 0;
    this.#train2 = 0;
    this.#source = 0;
    this.#sourceW = 0;
  }
}
