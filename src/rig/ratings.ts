/**
 * What copper may carry: tables and formulas for the cable. The word of trust behind each stands with it;
 * "published" means seen in a page that transcribes the standard. A competent person confirms the figures
 * against a bought copy, and the grouping and laying of the cables, before anything is built to them.
 */

/** Sections the rig knows, mm². */
export type ConductorMm2 = 35 | 50 | 70 | 95 | 120 | 150 | 185 | 240 | 300;
export type Insulation = 'pvc' | 'rubber-85' | 'epr-xlpe';

/** Class 5 (flexible) copper, greatest Ω/km at 20 °C. IEC 60228, published. */
const OHM_PER_KM: Readonly<Record<ConductorMm2, number>> = {
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

/** Temperature coefficient of copper at 20 °C, 1/K. Textbook. */
const ALPHA_20 = 0.00393;

/**
 * Two single cores touching, flexible, conductor at 90 °C, air at 30 °C, A. BS 7671 Table 4F2A, published
 * (transcription, columns inferred). It begins at 70 mm²; there is no figure here for thinner cores.
 */
const RATED_A: Readonly<Partial<Record<ConductorMm2, number>>> = {
  70: 310,
  95: 369,
  120: 432,
  150: 497,
  185: 567,
  240: 673,
  300: 773,
};

/** Factor of the same table for warmer air, by °C. BS 7671, published. */
const AMBIENT_FACTORS: readonly (readonly [ambientC: number, factor: number])[] = [
  [30, 1],
  [35, 0.95],
  [40, 0.91],
  [45, 0.86],
  [50, 0.82],
  [55, 0.76],
  [60, 0.7],
];

/** Share left on a drum, by layers wound on. Published; 0 layers means the cable is laid out. */
const DRUM_FACTORS: readonly number[] = [1, 0.85, 0.65, 0.45, 0.35];

/** Greatest conductor temperature in service and at the end of a short circuit, °C. IEC 60364-5-54, published. */
const INSULATION_C: Readonly<
  Record<Insulation, { readonly serviceC: number; readonly shortCircuitC: number }>
> = {
  pvc: { serviceC: 70, shortCircuitC: 160 },
  'rubber-85': { serviceC: 85, shortCircuitC: 220 },
  'epr-xlpe': { serviceC: 90, shortCircuitC: 250 },
};

/** Adiabatic constant k, A·√s/mm². IEC 60364-5-54, published. */
const ADIABATIC_K: Readonly<Record<Insulation, number>> = { pvc: 115, 'rubber-85': 134, 'epr-xlpe': 143 };

/** The part of a rig these formulas read. */
export interface CableFigures {
  readonly mm2: ConductorMm2;
  readonly lengthM: number;
  readonly coresPerPole: 1 | 2;
  readonly insulation: Insulation;
  readonly drumLayers: number;
}

export const serviceLimitC = (insulation: Insulation): number => INSULATION_C[insulation].serviceC;

/** Between rows the next warmer row holds; cooler air than the table earns nothing. NaN beyond the table. */
export function ambientFactor(ambientC: number): number {
  const row = AMBIENT_FACTORS.find(([upToC]) => ambientC <= upToC);
  return row ? row[1] : Number.NaN;
}

/** NaN for a number of layers the table does not know. */
export const drumFactor = (layers: number): number => DRUM_FACTORS[layers] ?? Number.NaN;

/**
 * Continuous rating of one pole, A, in still air at `ambientC`. NaN where the tables say nothing, so that a
 * comparison with it permits nothing.
 *
 * Insulation that bears less than the 90 °C of the table is scaled by the square root of the temperature rise
 * left to it (heat goes as I²R). Two cores of a pole count double: they must be laid apart, no grouping factor
 * is applied here.
 */
export function cableRatingA(cable: CableFigures, ambientC: number): number {
  const riseLeft = serviceLimitC(cable.insulation) - Math.max(ambientC, 30);
  const insulationFactor = Math.sqrt(riseLeft / (90 - Math.max(ambientC, 30)));
  const one = RATED_A[cable.mm2] ?? Number.NaN;
  return one * cable.coresPerPole * ambientFactor(ambientC) * drumFactor(cable.drumLayers) * insulationFactor;
}

/** The thinnest section of the table that carries the current under the same conditions, or undefined. */
export function sectionFor(
  currentA: number,
  cable: CableFigures,
  ambientC: number,
): ConductorMm2 | undefined {
  const sections = Object.keys(RATED_A).map(Number) as ConductorMm2[];
  return sections.find((mm2) => cableRatingA({ ...cable, mm2 }, ambientC) >= currentA);
}

/** Both poles in series, out and back, Ω, with the conductor at the given temperature. */
export function cableLoopOhm(cable: CableFigures, conductorC: number): number {
  const at20 = (OHM_PER_KM[cable.mm2] * 2 * cable.lengthM) / 1000 / cable.coresPerPole;
  return at20 * (1 + ALPHA_20 * (conductorC - 20));
}

/**
 * Where the conductor settles with a steady current: heat I²R(θ) through the thermal resistance of the whole
 * run. Infinity when the rise of resistance with heat outruns the cooling.
 */
export function steadyConductorC(
  cable: CableFigures & { readonly thermalResistanceKPerW: number },
  currentA: number,
  ambientC: number,
): number {
  const kelvinAt20 = currentA ** 2 * cableLoopOhm(cable, 20) * cable.thermalResistanceKPerW;
  const left = 1 - kelvinAt20 * ALPHA_20;
  return left > 0 ? (ambientC + kelvinAt20 * (1 - 20 * ALPHA_20)) / left : Number.POSITIVE_INFINITY;
}

export const adiabaticK = (insulation: Insulation): number => ADIABATIC_K[insulation];

/** Let-through the conductor of one pole bears in at most 5 s, A²s: k²S². */
export const withstandA2s = (cable: CableFigures): number =>
  (ADIABATIC_K[cable.insulation] * cable.mm2 * cable.coresPerPole) ** 2;

/** k from copper's own figures: 226·√ln((234.5+θf)/(234.5+θi)). IEC 60364-5-54, published. */
export function adiabaticKFromC(insulation: Insulation): number {
  const { serviceC, shortCircuitC } = INSULATION_C[insulation];
  return 226 * Math.sqrt(Math.log((234.5 + shortCircuitC) / (234.5 + serviceC)));
}
