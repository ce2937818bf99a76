/**
 * What a charging cable does under a steady current, from the tables of the trade: resistance, drop, loss, where
 * its conductor settles, what it may carry and what short circuit it bears; each with where it comes from.
 */
import {
  adiabaticK,
  ambientFactor,
  type CableFigures,
  cableLoopOhm,
  cableRatingA,
  drumFactor,
  serviceLimitC,
  steadyConductorC,
  withstandA2s,
} from '../rig/ratings.js';
import { type Estimate, evenly } from './estimate.js';

/** unclear: the tables say nothing about this section or air. */
export const CABLE_VERDICTS = ['ok', 'overloaded', 'unclear'] as const;
export type CableVerdict = (typeof CABLE_VERDICTS)[number];

export interface CableFound {
  readonly verdict: CableVerdict;
  readonly because: string;
  /** Both poles in series. */
  readonly at20Ohm: number;
  readonly resistanceOhm: Estimate;
  readonly dropV: Estimate;
  readonly lossW: Estimate;
  readonly steadyC: Estimate;
  readonly permittedA: number;
  readonly faultWithstandA2s: number;
  /** Current that heats the conductor to its short-circuit limit in one second. */
  readonly faultOneSecondA: number;
  readonly sources: Readonly<Record<string, string>>;
}

/** The rating table is for this conductor and this air. */
const TABLE_CONDUCTOR_C = 90;
const TABLE_AIR_C = 30;
/** How far laying, air movement and colour move the rise from what a table leads to expect. */
const RISE_SHARE = 0.1;

/**
 * Kelvin per watt of the whole run: the rating table turned round. At its current the conductor is at 90 °C in
 * air of 30 °C, whatever the insulation; on a drum the current that does so is lower.
 */
export function thermalResistanceKPerW(cable: CableFigures): number {
  const table = { ...cable, insulation: 'epr-xlpe', drumLayers: 0 } as const;
  const ratedA = cableRatingA(table, TABLE_AIR_C) * drumFactor(cable.drumLayers);
  return (TABLE_CONDUCTOR_C - TABLE_AIR_C) / (ratedA ** 2 * cableLoopOhm(cable, TABLE_CONDUCTOR_C));
}

export function cableFigures(cable: CableFigures, currentA: number, ambientC: number): CableFound {
  const thermal = thermalResistanceKPerW(cable);
  const settlesC = steadyConductorC({ ...cable, thermalResistanceKPerW: thermal }, currentA, ambientC);
  const steadyC = evenly(settlesC, RISE_SHARE * (settlesC - ambientC));
  const ohmOf = (conductorC: number): number => cableLoopOhm(cable, conductorC);
  const resistanceOhm = evenly(ohmOf(settlesC), ohmOf(steadyC.atMost) - ohmOf(settlesC));
  const permittedA = cableRatingA(cable, ambientC);
  const withstand = withstandA2s(cable);
  return {
    ...judge(currentA, permittedA),
    at20Ohm: ohmOf(20),
    resistanceOhm,
    dropV: evenly(currentA * resistanceOhm.value, currentA * resistanceOhm.uncertainty),
    lossW: evenly(currentA ** 2 * resistanceOhm.value, currentA ** 2 * resistanceOhm.uncertainty),
    steadyC,
    permittedA,
    faultWithstandA2s: withstand,
    faultOneSecondA: Math.sqrt(withstand),
    sources: sourcesOf(cable, ambientC),
  };
}

function judge(currentA: number, permittedA: number): { verdict: CableVerdict; because: string } {
  if (Number.isNaN(permittedA))
    return { verdict: 'unclear', because: 'the rating tables have no figure for this section or this air' };
  if (currentA <= permittedA) return { verdict: 'ok', because: 'the current is not above the permitted one' };
  return { verdict: 'overloaded', because: 'the current is above the permitted one' };
}

function sourcesOf(cable: CableFigures, ambientC: number): Record<string, string> {
  const resistance =
    'IEC 60228, class 5 copper, greatest resistance at 20 °C (published); α20 0.00393 /K (textbook)';
  const steady =
    'BS 7671 Table 4F2A turned round: 90 °C at the tabled current in air of 30 °C (published, columns inferred); ' +
    'uncertainty 10 % of the rise (practice)';
  const limitC = serviceLimitC(cable.insulation);
  return {
    at20Ohm: resistance,
    resistanceOhm: `${resistance}; at the steady temperature`,
    dropV: 'current times resistance, both poles',
    lossW: 'current squared times resistance, both poles',
    steadyC: steady,
    permittedA:
      'BS 7671 Table 4F2A, two single cores touching, flexible (published, columns inferred); ' +
      `factor for air of ${ambientC} °C ${ambientFactor(ambientC)}; ` +
      `${cable.drumLayers} drum layers ${drumFactor(cable.drumLayers)} (published); ` +
      `insulation for ${limitC} °C (IEC 60364-5-54, published), scaled by the root of the rise left to it`,
    faultWithstandA2s: `adiabatic, at most 5 s: k²S² with k ${adiabaticK(cable.insulation)}, IEC 60364-5-54 (published)`,
    faultOneSecondA: 'root of faultWithstandA2s over 1 s',
  };
}
