/**
 * The current a sound, leaky or resistive pilot loop draws, in closed form, with its slopes.
 *
 * Seen from the diode, source, source resistance, leak and core are one source behind one resistance. A diode of
 * exponential curve on such a line carries i = (s/R)·ω((v − drop)/s + ln(I₁₀·R/s)), ω the Wright omega function
 * (ω + ln ω = z), s the volts for each e-fold, drop the volts at I₁₀ = 10 mA. With s towards nothing this becomes
 * the piecewise diode. The reverse current, nanoamperes, is left out.
 *
 * The cable's capacitance draws little. How fast the pair's voltage moves is taken from the loop without it; the
 * current that needs is drawn on top and missing from what reaches leak and diode.
 */

/** Order of the parameters of the model. */
export const AT = { series: 0, leakS: 1, drop: 2, slope: 3, phase: 4, hertz: 5, farad: 6 } as const;
export const MODEL_PARAMETERS = 7;

export interface PilotSource {
  readonly peakV: number;
  readonly ohm: number;
}

/** The current at which the diode's drop is stated, as in the rig. */
const STATED_A = 0.01;

/** ω(z): the solution of ω + ln ω = z. Two rounds of third order from a start good to some per cent. */
export function wrightOmega(z: number): number {
  if (z < -30) return Math.exp(z);
  let w: number;
  if (z < -1) {
    const e = Math.exp(z);
    w = e * (1 - e + 1.5 * e * e);
  } else if (z < 3) w = 0.567143 + 0.361896 * z + 0.0737 * z * z - 0.00134 * z * z * z;
  else w = z - Math.log(z) * (1 - 1 / z);
  for (let k = 0; k < 2; k++) {
    const r = z - w - Math.log(w);
    const q = 2 * (1 + w) * (1 + w + (2 / 3) * r);
    w *= 1 + ((r / (1 + w)) * (q - r)) / (q - 2 * r);
  }
  return w;
}

/**
 * @param current filled with the current at each time, A
 * @param slopes when given, filled with its derivative by each parameter
 */
export function pilotCurrent(
  at: ArrayLike<number>,
  source: PilotSource,
  timeS: Float64Array,
  current: Float64Array,
  slopes?: readonly Float64Array[],
): void {
  const leakS = at[AT.leakS]!;
  const drop = at[AT.drop]!;
  const s = at[AT.slope]!;
  const phase = at[AT.phase]!;
  const omega = 2 * Math.PI * at[AT.hertz]!;
  const farad = at[AT.farad]!;
  const { peakV, ohm } = source;
  const share = 1 / (1 + leakS * ohm);
  const lineOhm = Math.max(1, at[AT.series]! + ohm * share);
  const knee = Math.log((STATED_A * lineOhm) / s) - drop / s;
  for (let n = 0; n < current.length; n++) {
    const t = timeS[n]!;
    const turn = omega * t + phase;
    const sine = peakV * Math.sin(turn);
    const swing = peakV * Math.cos(turn);
    // First without capacitance: how much of the source's voltage appears on the pair, and how fast it moves there.
    const still = wrightOmega((share * sine) / s + knee);
    const pair = 1 - ohm * share * (leakS + (share * still) / ((1 + still) * lineOhm));
    const pairVPerS = pair * omega * (swing + pair * ohm * farad * omega * sine);
    // What charges the cable drops at the source resistance and is missing from the loop.
    const sourceV = sine - ohm * farad * pairVPerS;
    const openV = share * sourceV;
    const w = wrightOmega(openV / s + knee);
    const wShare = w / (1 + w);
    const farA = (s * w) / lineOhm;
    current[n] = share * (leakS * sourceV + farA) + farad * pairVPerS;
    if (slopes === undefined) continue;
    const byLine = (-s * w * wShare) / (lineOhm * lineOhm);
    const shareByLeak = -ohm * share * share;
    const steep = share * (leakS + (share * wShare) / lineOhm);
    const rest = 1 - ohm * steep;
    // At the knee the capacitive current turns quickly; elsewhere this is nothing.
    const bend =
      (-rest * farad * omega * swing * ohm * share * share * wShare) / ((1 + w) * (1 + w) * lineOhm);
    slopes[AT.series]![n] = share * byLine + bend / lineOhm;
    slopes[AT.leakS]![n] =
      shareByLeak * (leakS * sourceV + farA) +
      share * (sourceV + shareByLeak * ((wShare / lineOhm) * sourceV + byLine * ohm)) +
      (bend * shareByLeak * sourceV) / s;
    slopes[AT.drop]![n] = (-share * wShare) / lineOhm - bend / s;
    const reach = (openV - drop) / s + 1;
    slopes[AT.slope]![n] = (share * (w - wShare * reach)) / lineOhm - (bend * reach) / s;
    const byPhase = steep * swing - farad * pair * rest * omega * sine + (bend * share * swing) / s;
    slopes[AT.phase]![n] = byPhase;
    slopes[AT.hertz]![n] = byPhase * 2 * Math.PI * t;
    slopes[AT.farad]![n] = rest * pair * omega * (swing + 2 * pair * ohm * farad * omega * sine);
  }
}
