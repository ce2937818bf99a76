/**
 * Isolation device: connects itself to one point. A dead charger or cable side is injected with low voltage on
 * both poles; the joined network gets the known resistor on one pole. Its voltmeters load the point it sits on.
 */
import { ISOLATION_POINT, ISOLATION_RESISTOR } from '../src/rig/roles.js';
import type { Circuit } from './circuit.js';

/** It never injects into a network that is live. */
const LIVE_V = 60;

export class IsolationDevice {
  readonly #circuit: Circuit;
  point: number = ISOLATION_POINT.off;
  resistor: number = ISOLATION_RESISTOR.none;
  injecting = false;

  constructor(circuit: Circuit) {
    this.#circuit = circuit;
  }

  connect(point: number, resistor: number): void {
    this.point = point;
    this.resistor = point === ISOLATION_POINT.joined ? resistor : ISOLATION_RESISTOR.none;
    const side = this.side();
    this.#circuit.setIsolationLoad('charger', side === 'charger');
    this.#circuit.setIsolationLoad('cable', side === 'cable');
    this.#circuit.setKnown('p', this.resistor === ISOLATION_RESISTOR.positive);
    this.#circuit.setKnown('n', this.resistor === ISOLATION_RESISTOR.negative);
    this.injecting = false;
    this.#circuit.setInjection('charger', false);
    this.#circuit.setInjection('cable', false);
    this.watch();
  }

  /** Injects while the point is dead, lets go when it becomes live. */
  watch(): void {
    const side = this.side();
    if (side === null || this.point === ISOLATION_POINT.joined) return;
    const betweenV = side === 'charger' ? this.#circuit.outputV() : this.#circuit.plugV();
    const dead = Math.abs(betweenV) <= LIVE_V;
    if (dead === this.injecting) return;
    this.injecting = dead;
    this.#circuit.setInjection(side, dead);
  }

  side(): 'charger' | 'cable' | null {
    if (this.point === ISOLATION_POINT.charger) return 'charger';
    return this.point === ISOLATION_POINT.cable || this.point === ISOLATION_POINT.joined ? 'cable' : null;
  }

  /** Pole to chassis at the connected point; NaN when connected nowhere. */
  poleV(pole: 'p' | 'n'): number {
    const side = this.side();
    return side === null ? Number.NaN : this.#circuit.poleVolts(side, pole);
  }
}
