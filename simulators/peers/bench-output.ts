/** The output of a simulated source, whatever language it speaks: drives the converter of the world. */
import type { PeerPlace } from './peer.js';

/** The world's converter wants an authority; a source follows its set-point at once and has no end to it. */
const AT_ONCE_A_PER_S = 5000;
const FOR_EVER_MS = 1e9;

export class BenchOutput {
  #on = false;
  #currentA = 0;
  #voltageV = 0;

  constructor(private readonly place: Pick<PeerPlace, 'plant' | 'rig'>) {}

  get on(): boolean {
    return this.#on;
  }
  get currentA(): number {
    return this.#currentA;
  }
  get voltageV(): number {
    return this.#voltageV;
  }

  setCurrent(currentA: number): void {
    this.#currentA = currentA;
    this.#refer();
  }

  setVoltage(voltageV: number): void {
    this.#voltageV = voltageV;
    this.#refer();
  }

  switch(on: boolean): void {
    if (on === this.#on) return;
    this.#on = on;
    const { plant, rig } = this.place;
    if (!on) {
      plant.apply({ name: 'disable-converter', args: {} });
      return;
    }
    const ceilingA = rig.converter.maxCurrentA;
    plant.apply({ name: 'enable-converter', args: { matchA: 0 } });
    plant.apply({
      name: 'authority',
      args: { ceilingA, slopeAPerS: AT_ONCE_A_PER_S, lifeMs: FOR_EVER_MS },
    });
    this.#refer();
  }

  #refer(): void {
    if (this.#on)
      this.place.plant.apply({
        name: 'setpoint',
        args: { currentA: this.#currentA, voltageV: this.#voltageV },
      });
  }
}
