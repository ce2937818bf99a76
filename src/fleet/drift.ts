/** What drifts in a rig over weeks, and the early warning: when its line would meet its limit. */
import type { Session } from './one.js';
import { type Trend, trendOf, weeksUntil } from './trend.js';

/** Leakage is told as conductance: leaks add up in it, none is 0, and every limit is one not to rise above. */
export const DRIFTING = {
  loopSeries: { title: 'pilot loop, series resistance', unit: 'ohm', setting: 'pilot.maxSeriesOhm' },
  loopLeakage: { title: 'pilot loop, leakage', unit: 'uS', setting: 'pilot.genuineShuntOhm' },
  isolationCharger: {
    title: 'isolation of the charger, leakage',
    unit: 'uS',
    setting: 'isolation.minOhmPerVolt',
  },
  isolationCable: {
    title: 'isolation of the cable, leakage',
    unit: 'uS',
    setting: 'isolation.minOhmPerVolt',
  },
} as const;
export type Drifting = keyof typeof DRIFTING;
export const DRIFTING_NAMES = Object.keys(DRIFTING) as readonly Drifting[];

const US_PER_S = 1e6;
const leakage = (ohm: number | null): number | null => (ohm === null ? null : US_PER_S / ohm);

const FIGURE: Record<Drifting, (s: Session) => number | null> = {
  loopSeries: (s) => s.figures.loopSeriesOhm,
  loopLeakage: (s) => s.figures.loopLeakageUs,
  isolationCharger: (s) => leakage(s.figures.isolationChargerOhm),
  isolationCable: (s) => leakage(s.figures.isolationCableOhm),
};
const LIMIT: Record<Drifting, (s: Session) => number | null> = {
  loopSeries: (s) => s.limits.loopSeriesOhm,
  loopLeakage: (s) => s.limits.loopLeakageUs,
  isolationCharger: (s) => leakage(s.limits.isolationOhm),
  isolationCable: (s) => leakage(s.limits.isolationOhm),
};

export interface Drift {
  readonly rig: string;
  readonly figure: Drifting;
  readonly unit: string;
  readonly setting: string;
  /** Of the newest session. */
  readonly limit: number;
  readonly wallMs: readonly number[];
  readonly values: readonly number[];
  /** null: too few sessions, or all within a week. */
  readonly trend: Trend | null;
  /** From the newest session; null when the line does not rise. */
  readonly weeksToLimit: number | null;
  /** In words, when the limit would be met within the weeks asked for. */
  readonly warning: string | null;
}

interface Points {
  readonly wallMs: number[];
  readonly values: number[];
  limit: number;
  newestMs: number;
}

/** Of one kind of clock: invented times would bend the line of true ones. */
class Kept {
  readonly points = new Map<Drifting, Points>();

  add(session: Session): void {
    for (const name of DRIFTING_NAMES) {
      const value = FIGURE[name](session);
      const limit = LIMIT[name](session);
      if (value === null || limit === null || !Number.isFinite(value)) continue;
      const kept = this.points.get(name) ?? { wallMs: [], values: [], limit, newestMs: session.wallMs };
      this.points.set(name, kept);
      kept.wallMs.push(session.wallMs);
      kept.values.push(value);
      if (session.wallMs >= kept.newestMs) Object.assign(kept, { limit, newestMs: session.wallMs });
    }
  }
}

export class RigDrift {
  readonly #real = new Kept();
  readonly #rehearsed = new Kept();

  constructor(readonly rig: string) {}

  add(session: Session): void {
    (session.rehearsal ? this.#rehearsed : this.#real).add(session);
  }

  /** Wall times of rehearsals are invented; they are looked at where there is nothing else. */
  get invented(): boolean {
    return this.#real.points.size === 0;
  }

  /** @param withinWeeks a limit met later than this is not told */
  drifts(withinWeeks: number): Drift[] {
    const { points } = this.invented ? this.#rehearsed : this.#real;
    return DRIFTING_NAMES.flatMap((figure) => {
      const kept = points.get(figure);
      if (kept === undefined) return [];
      const trend = trendOf(kept.wallMs, kept.values);
      const { limit, wallMs, values } = kept;
      const weeks = trend === null ? Number.POSITIVE_INFINITY : weeksUntil(trend, limit);
      const { unit, setting } = DRIFTING[figure];
      const weeksToLimit = Number.isFinite(weeks) ? weeks : null;
      const warning =
        trend !== null && weeks <= withinWeeks ? this.#words(figure, trend, limit, weeks) : null;
      return [{ rig: this.rig, figure, unit, setting, limit, wallMs, values, trend, weeksToLimit, warning }];
    });
  }

  #words(figure: Drifting, trend: Trend, limit: number, weeks: number): string {
    const { title, unit, setting } = DRIFTING[figure];
    const figures = `${tell(trend.now, unit)} now, limit ${tell(limit, unit)} [${setting}]`;
    const rises = `rising by ${round(trend.slopePerWeek)} ${unit} a week over ${round(trend.weeks)} weeks`;
    return weeks === 0
      ? `${this.rig}: ${title}: the line through ${trend.points} sessions is past its limit (${figures}).`
      : `${this.rig}: ${title} is ${rises} (${figures}): at that rate it meets its limit in about ${round(weeks, 2)} weeks. An extrapolation from ${trend.points} sessions, not a measurement.`;
  }
}

const round = (x: number, digits = 3): number => Number(x.toPrecision(digits));

/** Leakage with the resistance it stands for: that is what people know. */
export function tell(value: number, unit: string): string {
  if (unit !== 'uS') return `${round(value)} ${unit}`;
  return value > 0
    ? `${round(value)} uS (${round(US_PER_S / value).toLocaleString('en')} ohm)`
    : 'no leakage';
}
