/**
 * The rule of thumb before the simulation: energy over time, volts times amps times time. It knows no ramp, no taper
 * and no heat, so a wish that does not add up here adds up nowhere.
 */

const SECONDS_AN_HOUR = 3600;

/** kWh that a current at a voltage gives in a time. */
export const energyKwhOf = (volts: number, currentA: number, seconds: number): number =>
  (volts * currentA * seconds) / 3.6e6;

/** Mean power, kW. */
export const powerKwOf = (energyKwh: number, seconds: number): number =>
  (energyKwh * SECONDS_AN_HOUR) / seconds;

/** Current for a power, A. */
export const currentAOf = (powerKw: number, volts: number): number => (1000 * powerKw) / volts;

/** Time a current at a voltage needs for an energy, s. */
export const secondsOf = (energyKwh: number, volts: number, currentA: number): number =>
  (energyKwh * 3.6e6) / (volts * currentA);

export interface Arithmetic {
  readonly atV: number;
  readonly energyKwh: number;
  /** Time that is left for power: the dwell without what comes before and after. */
  readonly powerS: number;
  readonly requiredPowerKw: number;
  readonly requiredCurrentA: number;
  /** What the rig may at most, by whichever of its ratings is least at this voltage. */
  readonly mostCurrentA: number;
  readonly mostBy: string;
  readonly mostEnergyKwh: number;
  /** Time of power at that current. */
  readonly leastPowerS: number;
  readonly addsUp: boolean;
}

export function arithmeticOf(ask: {
  readonly energyKwh: number;
  readonly powerS: number;
  readonly atV: number;
  readonly most: { readonly limit: string; readonly currentA: number };
}): Arithmetic {
  const { energyKwh, powerS, atV, most } = ask;
  const requiredPowerKw = powerS > 0 ? powerKwOf(energyKwh, powerS) : Number.POSITIVE_INFINITY;
  const requiredCurrentA = currentAOf(requiredPowerKw, atV);
  return {
    ...{ atV, energyKwh, powerS, requiredPowerKw, requiredCurrentA },
    mostCurrentA: most.currentA,
    mostBy: most.limit,
    mostEnergyKwh: energyKwhOf(atV, most.currentA, Math.max(0, powerS)),
    leastPowerS: secondsOf(energyKwh, atV, most.currentA),
    addsUp: requiredCurrentA <= most.currentA,
  };
}
