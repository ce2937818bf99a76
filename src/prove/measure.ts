/**
 * Takes from a timeline what a step asks for, each figure with the interval it certainly lies in. What is read once a
 * report is only known to within reports; the meter's own error is counted on both sides.
 */
import type { Rig } from '../rig/schema.js';
import type { Moment, Sample, TimedEvent, Timeline } from './timeline.js';
import type { EventName, FigureName } from './vocabulary.js';

/** A figure: told as `value`, certainly from lo to hi; NaN where it was not seen. */
export interface Measured {
  readonly value: number;
  readonly lo: number;
  readonly hi: number;
  /** Journal record it rests on; −1 where there is none. */
  readonly n: number;
}

/** Meters of class 1 and one count; IEC 61557 allows more, a bench should have this: common practice, no source. */
const METER_SHARE = 0.01;
const COUNT_A = 0.01;
const COUNT_V = 0.1;
/** Touch-safe DC: IEC 60204-1 6.2.4, published. */
export const SAFE_V = 60;
/** Deviation of the device's clock, from a crystal; common practice, no source. */
const CLOCK_SHARE = 1e-4;
const RAMP_WINDOW_MS = 250;
const STEADY_MS = 1000;

export const UNSEEN: Measured = { value: Number.NaN, lo: Number.NaN, hi: Number.NaN, n: -1 };

const worst = (value: number, countOf: number): number => Math.abs(value) * (1 + METER_SHARE) + countOf;

const currentZero =
  (rig: Rig) =>
  (s: Sample): boolean =>
    Math.max(Math.abs(s.meter.currentMinA), Math.abs(s.meter.currentMaxA)) <= rig.contactors.routineBreakA;
const safeBy = (...volts: number[]): boolean => volts.every((v) => worst(v, COUNT_V) <= SAFE_V);
const outputSafe = ({ meter: m }: Sample): boolean =>
  safeBy(m.outputV, m.outputMinV, m.outputMaxV, m.outputPositiveV, m.outputNegativeV);
const plugSafe = ({ meter: m }: Sample): boolean =>
  safeBy(m.plugV, m.plugMinV, m.plugMaxV, m.plugPositiveV, m.plugNegativeV);

/** From when on every sample holds. Its extremes reach back to the report before, so it may have begun there. */
function settled(samples: readonly Sample[], holds: (s: Sample) => boolean): (Moment & { n: number }) | null {
  let k = samples.length;
  while (k > 0 && holds(samples[k - 1] as Sample)) k--;
  const first = samples[k];
  if (first === undefined) return null;
  const before = samples[k - 2] ?? samples[k - 1] ?? first;
  return { loMs: before.loMs, atMs: first.atMs, hiMs: first.hiMs, n: first.n };
}

/** The first event of this name, at or after a moment where one is given. */
export function find(
  line: Timeline,
  name: EventName,
  rig: Rig,
  since?: Moment,
): (Moment & { n: number }) | null {
  if (name === 'current-zero') return settled(line.samples, currentZero(rig));
  if (name === 'output-safe') return settled(line.samples, outputSafe);
  if (name === 'plug-safe') return settled(line.samples, plugSafe);
  if (name === 'parted') {
    const p = find(line, 'parted-p', rig, since);
    const n = find(line, 'parted-n', rig, since);
    if (p === null || n === null) return null;
    return p.atMs > n.atMs ? p : n;
  }
  const from = since?.loMs ?? Number.NEGATIVE_INFINITY;
  return line.events.find((e: TimedEvent) => e.name === name && e.hiMs >= from) ?? null;
}

/** ms from one event to another. */
export function timeBetween(line: Timeline, from: EventName, to: EventName, rig: Rig): Measured | 'no-start' {
  const start = find(line, from, rig);
  if (start === null) return 'no-start';
  const stop = find(line, to, rig, start);
  if (stop === null) return UNSEEN;
  const value = stop.atMs - start.atMs;
  const drift = Math.abs(value) * CLOCK_SHARE;
  return {
    value,
    lo: stop.loMs - start.hiMs - drift,
    hi: stop.hiMs - start.loMs + drift,
    n: stop.n,
  };
}

const byMeter = (value: number, scale: number, n: number): Measured => {
  const error = METER_SHARE * Math.abs(value) + scale;
  return { value, lo: value - error, hi: value + error, n };
};

/** The sample with the greatest of something. */
function greatest(samples: readonly Sample[], of: (s: Sample) => number): { value: number; n: number } {
  let best = { value: Number.NaN, n: -1 };
  for (const s of samples) if (!(of(s) <= best.value)) best = { value: of(s), n: s.n };
  return best;
}

/** Samples before the fault, or all where none is made. */
function undisturbed({ samples, events }: Timeline): readonly Sample[] {
  const mark = events.find((e) => e.name === 'mark');
  return mark === undefined ? samples : samples.filter((s) => s.hiMs < mark.loMs);
}

/** Samples at which the set-point has stood still for a while, in the upper half of what was asked for. */
function steady(samples: readonly Sample[]): Sample[] {
  const half = 0.5 * greatest(samples, (s) => s.setpointA).value;
  let since = Number.NaN;
  let at = Number.NaN;
  return samples.filter((s) => {
    if (!(Math.abs(s.setpointA - at) < 0.02)) since = s.atMs;
    at = s.setpointA;
    return s.setpointA >= half && s.atMs - since >= STEADY_MS;
  });
}

function ramp(samples: readonly Sample[]): Measured {
  let best = UNSEEN;
  let from = 0;
  for (const s of samples) {
    while (s.atMs - (samples[from] as Sample).atMs > RAMP_WINDOW_MS) from++;
    const first = samples[from] as Sample;
    const ms = s.atMs - first.atMs;
    if (ms < 0.75 * RAMP_WINDOW_MS) continue;
    const value = (1000 * (s.meter.currentA - first.meter.currentA)) / ms;
    // A gain error of the meter is one of the slope; its count and the device's clock are the rest.
    if (!(value <= best.value)) best = byMeter(value, (1000 * 2 * COUNT_A) / ms, s.n);
  }
  return best;
}

export function figureOf(line: Timeline, figure: FigureName): Measured {
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
      const error = METER_SHARE * setA + COUNT_A;
      return { value, lo: Math.max(0, value - error), hi: value + error, n };
    }
    case 'peakOutputV': {
      const { value, n } = greatest(samples, (s) => s.meter.outputMaxV);
      return byMeter(value, COUNT_V, n);
    }
    case 'peakOutputAfterV': {
      const before = undisturbed(line).at(-1)?.meter.outputV ?? Number.NaN;
      const { value, n } = greatest(samples, (s) => s.meter.outputMaxV);
      // One meter read twice: its error is that of the difference.
      return byMeter(value - before, 2 * COUNT_V, n);
    }
    case 'peakCurrentA': {
      const { value, n } = greatest(samples, (s) => s.meter.currentMaxA);
      return byMeter(value, COUNT_A, n);
    }
    case 'residualPlugV': {
      const at = line.events.find((e) => e.name === 'released' || e.name === 'trip');
      const last = samples.filter((s) => at === undefined || s.hiMs >= at.loMs).at(-1);
      if (last === undefined) return UNSEEN;
      const { plugV, plugPositiveV, plugNegativeV } = last.meter;
      return byMeter(Math.max(...[plugV, plugPositiveV, plugNegativeV].map(Math.abs)), COUNT_V, last.n);
    }
    case 'silentMs': {
      const event = line.events.find((e) => e.name === 'watchdog');
      return event === undefined
        ? UNSEEN
        : { value: event.value, lo: event.value - 1, hi: event.value + 1, n: event.n };
    }
    case 'energisedOrders':
      return exact(line.energisingOrders);
  }
}

const exact = (value: number): Measured => ({ value, lo: value, hi: value, n: -1 });
