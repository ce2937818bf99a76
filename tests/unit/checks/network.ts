/** Pole voltages of a small floating network, for tests: divider and one time constant, nothing shared with checks. */
import type { Scene } from './build.js';

export interface Leaks {
  readonly positiveOhm: number;
  readonly negativeOhm: number;
  /** Both poles to chassis together. */
  readonly capacitanceF: number;
}

/** Swings the isolation device's (and meter's) pole voltages towards where the ordered resistor brings them. */
export class Poles {
  #positiveV: number;

  constructor(
    readonly bothV: number,
    public leaks: Leaks,
  ) {
    this.#positiveV = (bothV * leaks.positiveOhm) / (leaks.positiveOhm + leaks.negativeOhm);
  }

  step(scene: Scene, ms: number): void {
    const { isolation } = scene;
    const { meterOhm, knownOhm } = scene.rig.isolation;
    const p = 1 / this.leaks.positiveOhm + 1 / meterOhm + (isolation.resistor === 1 ? 1 / knownOhm : 0);
    const n = 1 / this.leaks.negativeOhm + 1 / meterOhm + (isolation.resistor === 2 ? 1 / knownOhm : 0);
    const restV = (this.bothV * n) / (p + n);
    this.#positiveV =
      restV + (this.#positiveV - restV) * Math.exp((-ms / 1000) * ((p + n) / this.leaks.capacitanceF));
    isolation.positiveV = this.#positiveV;
    isolation.negativeV = this.#positiveV - this.bothV;
    scene.meter.plugPositiveV = isolation.positiveV;
    scene.meter.plugNegativeV = isolation.negativeV;
  }
}
