/** What a plot of a run is drawn of: readings around what happened, and when whoever acted did. */
import type { Step } from './procedure.js';
import type { Sample, TimedEvent, Timeline } from './timeline.js';
import type { EventName } from './vocabulary.js';

const BEFORE_MS = 500;
const AFTER_MS = 3500;
/** A fault and what follows it are one picture up to here. */
const TOGETHER_MS = 2800;
/** Of a whole session. */
const MOST_POINTS = 400;

/** Current and volts around what happened. */
export interface Trace {
  /** Times are counted from here. */
  readonly zero: EventName | 'end of the record';
  /** Every reading, every second, every third … */
  readonly every: number;
  readonly tMs: readonly number[];
  readonly currentA: readonly number[];
  readonly outputV: readonly number[];
  readonly plugV: readonly number[];
  /** Events of the device and of the supervisor, with the numbers of their records; the fault whenever it was. */
  readonly events: readonly {
    readonly tMs: number;
    readonly name: EventName;
    readonly detail: string;
    readonly n: number;
  }[];
}

const ACTS: ReadonlySet<EventName> = new Set(['relay', 'watchdog', 'make-safe', 'stop']);

/** @returns null where nothing happened that one could look at closely: the whole session is the picture then */
function centre({ events }: Timeline, step: Step): TimedEvent | null {
  const mark = events.find((e) => e.name === 'mark');
  const acted = events.find((e) => ACTS.has(e.name)) ?? events.find((e) => e.name === 'trip');
  const timed = step.see.some((seen) => 'time' in seen);
  if (acted === undefined || (step.ends.outcome === 'released' && !timed))
    return timed ? (mark ?? null) : null;
  return mark !== undefined && acted.atMs - mark.atMs <= TOGETHER_MS ? mark : acted;
}

export function traceOf(line: Timeline, step: Step): Trace {
  const at = centre(line, step);
  const zero = at ?? line.events.find((e) => e.name === 'stop') ?? line.events.find((e) => e.name === 'mark');
  const zeroMs = zero?.atMs ?? line.samples.at(-1)?.atMs ?? 0;
  const near = (tMs: number): boolean => at === null || (tMs >= -BEFORE_MS && tMs <= AFTER_MS);
  const all = line.samples.filter((s) => near(s.atMs - zeroMs));
  const every = Math.max(1, Math.ceil(all.length / MOST_POINTS));
  const samples = all.filter((_, i) => i % every === 0);
  const to = (x: number): number => Number(x.toFixed(2));
  const series = (of: (s: Sample) => number): number[] => samples.map((s) => to(of(s)));
  return {
    zero: zero?.name ?? 'end of the record',
    every,
    tMs: series((s) => s.atMs - zeroMs),
    currentA: series((s) => s.meter.currentA),
    outputV: series((s) => s.meter.outputV),
    plugV: series((s) => s.meter.plugV),
    events: line.events
      .filter((e) => near(e.atMs - zeroMs) || e.name === 'mark')
      .map(({ atMs, name, detail, n }) => ({ tMs: to(atMs - zeroMs), name, detail, n })),
  };
}
