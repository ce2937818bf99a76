/** The two discharge resistors: switched on by their relay, unless the resistor is open although the relay says on. */
import type { Rig } from '../src/rig/schema.js';
import type { Circuit } from './circuit.js';

/** The energy the rig permits warms the resistor by this much. */
const RISE_K = 100;
const COOLING_S = 60;

export class Bleeders {
  readonly #circuit: Circuit;
  readonly #ambientC: number;
  readonly #heatCapacityJPerK: number;
  temperatureC: number;
  readonly on = { output: false, plug: false };
  readonly dead = { output: false, plug: false };
  /** Energy turned to heat so far, J. */
  readonly energyJ = { output: 0, plug: 0 };

  constructor(rig: Rig, circuit: Circuit, ambientC: number) {
    this.#circuit = circuit;
    this.#ambientC = ambientC;
    this.#heatCapacityJPerK = rig.bleeder.maxEnergyJ / RISE_K;
    this.temperatureC = ambientC;
  }

  switch(side: 'output' | 'plug', on: boolean): void {
    this.on[side] = on;
    this.#circuit.setBleeder(side, on && !this.dead[side]);
  }

  setDead(side: 'output' | 'plug', dead: boolean): void {
    this.dead[side] = dead;
    this.switch(side, this.on[side]);
  }

  /** Slow part; energies of the step in J. */
  warm(stepS: number, outputJ: number, plugJ: number): void {
    this.energyJ.output += outputJ;
    this.energyJ.plug += plugJ;
    this.temperatureC += Math.max(outputJ, plugJ) / this.#heatCapacityJPerK;
    this.temperatureC += ((this.#ambientC - this.temperatureC) * stepS) / COOLING_S;
  }
}
