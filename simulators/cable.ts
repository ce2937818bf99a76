/**
 * Cable cores and plug contacts (or shoes): resistance over temperature, first-order heating, sensors.
 */
import type { Rig } from '../src/rig/schema.js';
import type { PoleName } from './circuit.js';

/** IEC 60228, class 5 plain copper, greatest resistance at 20 °C, ohm per km. */
export const CLASS5_OHM_PER_KM: Readonly<Record<number, number>> = {
  35: 0.554,
  50: 0.386,
  70: 0.272,
  95: 0.206,
  120: 0.161,
  150: 0.129,
  185: 0.106,
  240: 0.0801,
  300: 0.0641,
};
/** Copper, per kelvin at 20 °C. */
export const COPPER_ALPHA20 = 0.00393;

/** One core of one pole, ohm. */
export function coreOhm(mm2: number, lengthM: number, cores: number, conductorC: number): number {
  const perKm = CLASS5_OHM_PER_KM[mm2];
  if (perKm === undefined) return Number.NaN;
  return ((perKm * lengthM) / 1000 / cores) * (1 + COPPER_ALPHA20 * (conductorC - 20));
}

export class Cable {
  readonly #rig: Rig['connection'];
  readonly #ambientC: number;
  conductorC: number;
  readonly contactC: Record<PoleName, number>;
  /** Present resistance of each contact. */
  readonly contactOhm: Record<PoleName, number>;
  /** Fault: heating that does not come from the current, K/s. */
  extraHeatKPerS = 0;
  /** Fault: the same at each contact, K/s. */
  contactHeatKPerS = 0;
  /** Fault: coiled or covered; multiplies the thermal resistance. */
  coilingFactor = 1;
  /** Fault: the contact sensor has lost the contact and reads the air. */
  contactSensorBlind = false;

  constructor(rig: Rig, ambientC: number) {
    this.#rig = rig.connection;
    this.#ambientC = ambientC;
    this.conductorC = ambientC;
    this.contactC = { p: ambientC, n: ambientC };
    const ohm = this.#rig.contact.resistanceOhm;
    this.contactOhm = { p: ohm, n: ohm };
  }

  coreOhm(): number {
    const c = this.#rig.cable;
    return coreOhm(c.mm2, c.lengthM, c.coresPerPole, this.conductorC);
  }

  /** Core and contact of one pole in series. */
  poleOhm(pole: PoleName): number {
    return this.coreOhm() + this.contactOhm[pole];
  }

  /** Slow part. `squareA2` is the mean square of the line current over the step. */
  warm(stepS: number, squareA2: number): void {
    const cable = this.#rig.cable;
    const heatW = squareA2 * 2 * this.coreOhm();
    const riseK = heatW * cable.thermalResistanceKPerW * this.coilingFactor;
    this.conductorC +=
      ((this.#ambientC + riseK - this.conductorC) / cable.thermalTimeConstantS + this.extraHeatKPerS) * stepS;
    const contact = this.#rig.contact;
    for (const pole of ['p', 'n'] as const) {
      const contactW = squareA2 * this.contactOhm[pole];
      const target = this.#ambientC + contactW * contact.thermalResistanceKPerW;
      this.contactC[pole] +=
        ((target - this.contactC[pole]) / contact.thermalTimeConstantS + this.contactHeatKPerS) * stepS;
    }
  }

  sensedContactC(): number {
    return this.contactSensorBlind ? this.#ambientC + 4 : Math.max(this.contactC.p, this.contactC.n);
  }
}
