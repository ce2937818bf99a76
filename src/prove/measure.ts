/**
 * Takes from a timeline what a step asks for, each figure with the interval it certainly lies in. What is read once a
 * report is only known to within reports; the meter's own error is counted on both sides.
 */
import type { Rig } from '../rig/schema.js';
import { CLOCK_SHARE, COUNT_MS } from './clock-offset.js';
import type { Moment, PoleReport, Sample, TimedEvent, Timeline } from './timeline.js';
import type { EventName, FigureName } from './vocabulary.js';

/** A figure: told as `value`, certainly from lo to hi; NaN where it was not seen. */
export interface Measured {
  readonly value: number;
  readonly lo: number;
  readonly hi: number;
  /** Journal record it rests on; −1 where there is none. */
  readonly n: number;
}

/** Meters of class 1, and what they read at nothing: common practice, no source. */
const METER_SHARE = 0.01;
const FLOOR_A = 0.15;
const FLOOR_V = 0.2;
/** Touch-safe DC: IEC 60204-1 6.2.4, published. */
export const SAFE_V = 60;
const RAMP_WINDOW_MS = 250;
const STEADY_MS = 1000;

export const UNSEEN: Measured = { value: Number.NaN, lo: Number.NaN, hi: Number.NaN, n: -1 };
/** Nothing can be said: the cause was not timed, or what was to follow it was so before. */
export type Untimed = 'no-cause' | 'before-cause';

/** Whether the true magnitudes are all at most a limit: certainly, certainly not, or within the meter's error. */
function within(values: readonly number[], limit: number, floor: number): boolean | null {
  const greatest = Math.max(...values.map(Math.abs));
  if (greatest * (1 + METER_SHARE) + floor <= limit) return true;
  return greatest * (1 - METER_SHARE) - floor > limit ? false : null;
}
interface Condition {
  readonly holds: (s: Sample) => boolean | null;
  /** Made of extremes alone: it speaks of the whole time since the report before. */
  readonly all: boolean;
}
const currentZero = ({ contactors }: Rig): Condition => ({
  all: true,
  holds: ({ meter: m }) => within([m.currentMinA, m.currentMaxA], contactors.routineBreakA, FLOOR_A),
});
// Volts to chassis are told as they stand at the report.
const outputSafe: Condition = {
  all: false,
  holds: ({ meter: m }) =>
    within([m.outputV, m.outputMinV, m.outputMaxV, m.outputPositiveV, m.outputNegativeV], SAFE_V, FLOOR_V),
};
const plugSafe: Condition = {
  all: false,
  holds: ({ meter: m }) =>
    within([m.plugV, m.plugMinV, m.plugMaxV, m.plugPositiveV, m.plugNegativeV], SAFE_V, FLOOR_V),
};

interface Settled extends Moment {
  readonly n: number;
  /** The last sample that shows for certain that it was not so yet; null: there is none. */
  readonly last: Sample | null;
}

/**
 * From when on every sample certainly shows it, with none missing between them. Extremes reach back to the report
 * before, so it may have begun there; the earliest it can be is the report before the last that shows the contrary.
 */
function settled(samples: readonly Sample[], { holds, all }: Condition): Settled | null {
  let k = samples.length;
  while (k > 0 && samples[k]?.gap !== true && holds(samples[k - 1] as Sample) === true) k--;
  const first = samples[k];
  if (first === undefined) return null;
  let j = k - 1;
  while (j >= 0 && holds(samples[j] as Sample) !== false) j--;
  const before = samples[j - 1];
  // Extremes of the first that shows it reach back to the report before: it was so from there on.
  const { atMs, hiMs, own } = (all && !first.gap ? samples[k - 1] : undefined) ?? first;
  const loMs = before?.loMs ?? Number.NEGATIVE_INFINITY;
  const ownLoMs = before?.own.loMs ?? Number.NEGATIVE_INFINITY;
  return { loMs, atMs, hiMs, own: { ...own, loMs: ownLoMs }, n: first.n, last: samples[j] ?? null };
}

const conditionOf = (name: EventName, rig: Rig): Condition | null =>
  name === 'current-zero'
    ? currentZero(rig)
    : name === 'output-safe'
      ? outputSafe
      : name === 'plug-safe'
        ? plugSafe
        : null;

type Found = Moment & { readonly n: number };

/** The first event of this name, at or after a moment where one is given. */
export function find(
  line: Timeline,
  name: EventName,
  rig: Rig,
  since?: Moment,
  detail?: string,
): Found | null {
  const condition = conditionOf(name, rig);
  if (condition !== null) return settled(line.samples, condition);
  if (name === 'parted') {
    const p = find(line, 'parted-p', rig, since);
    const n = find(line, 'parted-n', rig, since);
    if (p === null || n === null) return null;
    return p.atMs > n.atMs ? p : n;
  }
  const from = since?.loMs ?? Number.NEGATIVE_INFINITY;
  const isIt = (e: TimedEvent): boolean => e.name === name && (detail === undefined || e.detail === detail);
  return line.events.find((e) => isIt(e) && e.hiMs >= from) ?? null;
}

/**
 * ms from one event to another.
 * @param relay which one `relay` means; any where none is given
 */
export function timeBetween(
  line: Timeline,
  from: EventName,
  to: EventName,
  rig: Rig,
  relay?: string,
): Measured | Untimed {
  const start = find(line, from, rig);
  if (start === null) return 'no-cause';
  const condition = conditionOf(to, rig);
  if (condition !== null) {
    const stop = settled(line.samples, condition);
    // What was so before the cause came was not brought about by it.
    if (stop !== null && !((stop.last?.hiMs ?? Number.NEGATIVE_INFINITY) >= start.loMs))
      return 'before-cause';
  }
  const stop = find(line, to, rig, start, to === 'relay' ? relay : undefined);
  return stop === null ? UNSEEN : between(start, stop);
}

function between(start: Found, stop: Found): Measured {
  // Two moments of one clock differ by what it shows, however it is set.
  const one = start.own.clock === stop.own.clock;
  const [a, b] = one ? [start.own, stop.own] : [start, stop];
  const value = b.atMs - a.atMs;
  const drift = Math.abs(value) * CLOCK_SHARE;
  return { value, lo: b.loMs - a.hiMs - drift, hi: b.hiMs - a.loMs + drift, n: stop.n };
}

const byMeter = (value: number, scale: number, n: number): Measured => {
  const error = METER_SHARE * Math.abs(value) + scale;
  return { value, lo: value - error, hi: value + error, n };
};

/** The sample with the greatest of something; NaN where one cannot be read, for it may have been that one. */
function greatest(samples: readonly Sample[], of: (s: Sample) => number): { value: number; n: number } {
  let best = { value: Number.NEGATIVE_INFINITY, n: -1 };
  for (const s of samples) {
    const value = of(s);
    if (Number.isNaN(value)) return { value, n: s.n };
    if (value > best.value) best = { value, n: s.n };
  }
  return best.n === -1 ? { value: Number.NaN, n: -1 } : best;
}

/** Samples before the fault, or all where none is made. */
function undisturbed({ samples, events }: Timeline): readonly Sample[] {
  const mark = events.find((e) => e.name === 'mark');
  return mark === undefined ? samples : samples.filter((s) => s.hiMs < mark.loMs);
}

/** Samples whose extremes reach past the fault; none where none was made. */
function disturbed({ samples, events }: Timeline): readonly Sample[] {
  const mark = events.find((e) => e.name === 'mark');
  return mark === undefined ? [] : samples.filter((s) => s.hiMs >= mark.loMs);
}

/** Samples at which the set-point has stood still for a while, in the upper half of what was asked for. */
function steady(samples: readonly Sample[]): Sample[] {
  const half = 0.5 * greatest(samples, (s) => s.setpointA).value;
  let since = Number.NaN;
  let at = Number.NaN;
  return samples.filter((s) => {
    if (!(Math.abs(s.setpointA - at) < 0.02)) since = s.own.atMs;
    at = s.setpointA;
    return s.setpointA >= half && s.own.atMs - since >= STEADY_MS;
  });
}

function ramp(samples: readonly Sample[]): Measured {
  let best = UNSEEN;
  let from = 0;
  for (const s of samples) {
    while (s.own.atMs - (samples[from] as Sample).own.atMs > RAMP_WINDOW_MS) from++;
    const first = samples[from] as Sample;
    const ms = s.own.atMs - first.own.atMs;
    if (ms < 0.75 * RAMP_WINDOW_MS) continue;
    const value = (1000 * (s.meter.currentA - first.meter.currentA)) / ms;
    // A gain error of the meter is one of the slope; what it reads at nothing may differ from one end to the other.
    if (Number.isNaN(value)) return { ...UNSEEN, n: s.n };
    if (!(value <= best.value)) best = byMeter(value, (1000 * 2 * FLOOR_A) / ms, s.n);
  }
  return best;
}

/** What the bench knows beside the journal. */
export interface Facts {
  readonly lostRecords: number;
  readonly plugAfterLossV: number;
}
const UNKNOWN: Facts = { lostRecords: Number.NaN, plugAfterLossV: Number.NaN };

export function figureOf(line: Timeline, figure: FigureName, rig: Rig, facts: Facts = UNKNOWN): Measured {
  const { samples } = line;
  switch (figure) {
    case 'rampAPerS':
      return ramp(undisturbed(line));
    case 'overshootPercent': {
      const setA = greatest(samples, (s) => s.setpointA).value;
      const { value, n } = greatest(samples, (s) => s.meter.currentMaxA);
      const percent = 100 * (value / setA - 1);
      return { value: percent, lo: percent - 100 * METER_SHARE, hi: percent + 100 * METER_SHARE, n };
    }
    case 'ripplePercent': {
      const swing = (s: Sample): number =>
        (50 * (s.meter.currentMaxA - s.meter.currentMinA)) / Math.abs(s.meter.currentA);
      const { value, n } = greatest(steady(undisturbed(line)), swing);
      return byMeter(value, 0, n);
    }
    case 'steadyErrorA': {
      const { value, n } = greatest(steady(undisturbed(line)), (s) =>
        Math.abs(s.meter.currentA - s.setpointA),
      );
      const setA = samples.find((s) => s.n === n)?.setpointA ?? Number.NaN;
      const error = METER_SHARE * setA + FLOOR_A;
      return { value, lo: Math.max(0, value - error), hi: value + error, n };
    }
    case 'peakOutputV': {
      const { value, n } = greatest(samples, (s) => s.meter.outputMaxV);
      return byMeter(value, FLOOR_V, n);
    }
    case 'peakOutputAfterV': {
      const before = undisturbed(line).at(-1)?.meter.outputV ?? Number.NaN;
      const { value, n } = greatest(disturbed(line), (s) => s.meter.outputMaxV);
      // One meter read twice: its error is that of the difference.
      return byMeter(value - before, 2 * FLOOR_V, n);
    }
    case 'peakCurrentA': {
      const { value, n } = greatest(samples, (s) => s.meter.currentMaxA);
      return byMeter(value, FLOOR_A, n);
    }
    case 'residualPlugV': {
      // From when on a person may draw it; before that it is locked.
      const freed = line.events.find((e) => e.name === 'released');
      if (freed === undefined) return UNSEEN;
      const { value, n } = greatest(
        samples.filter((s) => s.hiMs >= freed.loMs),
        ({ meter: m }) => Math.max(...[m.plugV, m.plugPositiveV, m.plugNegativeV].map(Math.abs)),
      );
      return byMeter(value, FLOOR_V, n);
    }
    case 'silentMs': {
      // Each port has its own: the slowest counts.
      const those = line.events.filter((e) => e.name === 'watchdog');
      const slowest = those.reduce<TimedEvent | undefined>(
        (m, e) => (m && m.value >= e.value ? m : e),
        undefined,
      );
      if (slowest === undefined) return UNSEEN;
      const { value, n } = slowest;
      return { value, lo: value - COUNT_MS, hi: value + COUNT_MS, n };
    }
    case 'lostRecords':
      return exact(facts.lostRecords);
    case 'plugAfterLossV':
      return byMeter(facts.plugAfterLossV, FLOOR_V, -1);
    case 'energisedOrders':
      return exact(line.energising.before + line.energising.after);
    case 'restartOrders':
      return exact(line.energising.after);
    case 'lostReports':
      return exact(line.lostReports);
    case 'polesClosed':
      return mostOf(line.poles, (r) => r.closed);
    case 'closedAgain': {
      const parted = find(
        line,
        'parted',
        rig,
        line.events.find((e) => e.name === 'mark'),
      );
      if (parted === null) return UNSEEN;
      return countOf(
        line.poles,
        (r) => r.loMs > parted.hiMs,
        (r) => r.closed > 0,
      );
    }
    case 'latchLost': {
      const safe = line.events.find((e) => e.name === 'make-safe');
      if (safe === undefined) return UNSEEN;
      return countOf(
        line.poles,
        (r) => r.loMs > safe.hiMs,
        (r) => !r.latched,
      );
    }
  }
}

const exact = (value: number, n = -1): Measured => ({ value, lo: value, hi: value, n });

function mostOf(reports: readonly PoleReport[], of: (r: PoleReport) => number): Measured {
  let best = UNSEEN;
  for (const r of reports) if (!(of(r) <= best.value)) best = exact(of(r), r.n);
  return best;
}

/** How many of those that count show it; unseen where none counts. */
function countOf(
  reports: readonly PoleReport[],
  counts: (r: PoleReport) => boolean,
  shows: (r: PoleReport) => boolean,
): Measured {
  const those = reports.filter(counts);
  return those.length === 0 ? UNSEEN : exact(those.filter(shows).length, those.find(shows)?.n);
}
