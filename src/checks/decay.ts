/**
 * One side being bled, followed by its voltmeter: is it dead, and did the voltmeter see it die?
 *
 * A dead voltmeter reads zero too. So a side that was live in this session is dead only by a voltmeter that
 * read the live voltage (where another instrument has read it, this one must have too), followed it down without
 * a gap, and then stayed below the safe voltage. A side that falls over many reports has its samples on the
 * bleeder's curve. One that falls within a report has extremes that reach from the live voltage down to the safe one.
 */

export interface SideSample {
  /** Pole to pole, its extremes since the last report (absolute values; they may be NaN). */
  readonly volts: number;
  readonly leastV: number;
  readonly mostV: number;
  /** The greater of both poles to chassis. */
  readonly chassisV: number;
  /** The same side by another instrument, where one sees it; NaN otherwise. */
  readonly otherV: number;
  readonly bleeding: boolean;
  readonly tMs: number;
}

export interface SideRule {
  readonly safeV: number;
  /** The bleeder's own time constant. */
  readonly tauMs: number;
  readonly stepMs: number;
}

export interface SideState {
  /** Above the safe voltage at some time in this session, by this voltmeter or by another that sees the side. */
  readonly live: boolean;
  readonly volts: number;
  readonly tMs: number;
  /** Samples that lay on the curve on the way down. */
  readonly onCurve: number;
  /** Fell in a way no discharge falls: the voltmeter, not the side, may be dead. */
  readonly jumped: boolean;
  /** Samples in a row below the safe voltage, everywhere. */
  readonly below: number;
}

export const UNSEEN: SideState = {
  live: false,
  volts: Number.NaN,
  tMs: Number.NaN,
  onCurve: 0,
  jumped: false,
  below: 0,
};

/** Uncertainty of the voltmeter, on the unfavourable side. */
const UNCERTAIN_V = 2;
/** Samples below before a side is called dead. */
const BELOW_SAMPLES = 3;
/** A time constant may be longer than the rig's by this factor; in one sudden step, shorter. */
const TAU_FACTOR = 2.5;
/** Samples on the curve that make a decay. */
const ON_CURVE = 2;
/** A report must begin where the last one ended, within this share. */
const CONTINUOUS_SHARE = 0.75;
/**
 * A report or two lost on the way, in periods: the extremes of a lost report are lost with it. Then the fall must
 * at least be one the bleeder can make; that the voltmeter should die in just that moment is a second fault.
 */
const LOST_PERIODS = 3.5;
/** A fall below this share within one report is sudden. */
const SUDDEN_SHARE = 0.5;
/** Under this a voltage is its own noise. */
const NOISE_V = 5;
/** A fall by less, or a rise, may be noise from one sample to the next: the side stands, and something may feed it. */
const CLEAR_FALL_V = NOISE_V / 2;

/** Takes one new sample of the side. */
export function followSide(s: SideState, sample: SideSample, rule: SideRule): SideState {
  const { volts, tMs } = sample;
  const limitV = rule.safeV - UNCERTAIN_V;
  const isBelow = volts <= limitV && sample.mostV <= limitV && sample.chassisV <= limitV;
  const below = isBelow ? s.below + 1 : 0;
  const isLive = volts > rule.safeV || sample.mostV > rule.safeV || sample.otherV > rule.safeV;
  if (!s.live) return { live: isLive, volts, tMs, onCurve: s.onCurve, jumped: s.jumped, below };
  // Rising again, or standing: whatever was followed before says nothing about this voltage.
  if (volts >= s.volts - NOISE_V && volts > rule.safeV)
    return { live: true, volts, tMs, onCurve: 0, jumped: false, below };
  const { jumped } = s;
  if (!(s.volts > NOISE_V)) return { live: true, volts, tMs, onCurve: s.onCurve, jumped, below };
  const sudden = !(volts >= SUDDEN_SHARE * s.volts);
  const gapMs = tMs - s.tMs;
  const reportsLost = gapMs > 1.5 * rule.stepMs && gapMs <= LOST_PERIODS * rule.stepMs;
  const continuous = sample.mostV >= CONTINUOUS_SHARE * s.volts || (reportsLost && sample.bleeding);
  const expectedFall = Math.exp(-(tMs - s.tMs) / (rule.tauMs / TAU_FACTOR));
  const mayFallSoFast = sample.bleeding && volts >= s.volts * expectedFall - NOISE_V;
  // No sample in between, no bleeder, or faster than it can be: not a discharge but a voltmeter going dead.
  // A report may be lost on the way once the curve has been followed: a dead voltmeter would fall below it.
  const linked = continuous || s.onCurve >= ON_CURVE;
  const odd = Number.isNaN(volts) || (sudden && !(linked && mayFallSoFast));
  // A gap in the reports that ends on a live voltage hides nothing: the way down from here is still to be seen.
  if (odd && volts > rule.safeV) return { live: true, volts, tMs, onCurve: 0, jumped, below };
  if (odd) return { live: true, volts, tMs, onCurve: 0, jumped: true, below };
  const tauMs = (tMs - s.tMs) / Math.log(s.volts / Math.max(volts, 0.5));
  // Faster than the bleeder alone is fine as long as the report is continuous: other paths may help it.
  const fastEnough = tauMs <= rule.tauMs * TAU_FACTOR;
  // A fall within one report: its extremes are the curve.
  const withinReport = rule.tauMs < rule.stepMs && sudden && continuous && sample.leastV <= limitV;
  const isFall = s.volts - volts >= CLEAR_FALL_V;
  const counts = withinReport ? 2 : continuous && fastEnough && isFall ? 1 : 0;
  const onCurve = s.onCurve + (sample.bleeding ? counts : 0);
  return { live: true, volts, tMs, onCurve, jumped, below };
}

/** The voltmeter followed the side from live to dead. */
export const followed = (s: SideState): boolean => !s.live || (s.onCurve >= ON_CURVE && !s.jumped);

export const isDead = (s: SideState): boolean => s.below >= BELOW_SAMPLES && followed(s);

/** Reads dead, but the way down was not seen. */
export const unproven = (s: SideState): boolean => s.below >= BELOW_SAMPLES && !followed(s);
