/** What a plot is centred on: the fault with what follows it, or what acted where the fault was long ago. */
import { describe, expect, it } from 'vitest';
import type { Step } from '../../../src/prove/procedure.js';
import type { Timeline } from '../../../src/prove/timeline.js';
import { traceOf } from '../../../src/prove/trace.js';
import type { EventName } from '../../../src/prove/vocabulary.js';
import { procedure, step } from './proofs.js';

const stepOf = (more: Record<string, unknown> = {}): Step =>
  procedure([step(more)]).procedure.steps[0] as Step;
const FIGURE = {
  protection: { name: 'the loop of the converter', by: 'regulation', evidence: 'the meter' },
  observe: undefined,
  ends: { outcome: 'released', exit: 0 },
  see: [{ figure: 'peakCurrentA', atMost: { value: 300, source: 'a source' } }],
};

/** A report every 50 ms for as long as is asked, its current its number. */
function line(lastMs: number, events: Partial<Record<EventName, number>>): Timeline {
  const at = (ms: number) => ({ loMs: ms, atMs: ms, hiMs: ms + 1 });
  const samples = Array.from({ length: lastMs / 50 + 1 }, (_, i) => ({
    ...at(50 * i),
    n: i,
    meter: { currentA: i, outputV: 2 * i, plugV: 3 * i },
    setpointA: 0,
  }));
  const listed = Object.entries(events)
    .map(([name, ms], i) => ({ ...at(ms), name, n: 1000 + i, detail: '', value: 0 }))
    .sort((a, b) => a.atMs - b.atMs);
  return {
    samples,
    events: listed,
    poles: [],
    welcomes: [],
    energising: { before: 0, after: 0 },
    end: null,
  } as never;
}

describe('a trace', () => {
  it('is counted from the fault when what follows is near', () => {
    const trace = traceOf(line(20_000, { mark: 10_010, relay: 10_030, trip: 10_400 }), stepOf());
    expect(trace.zero).toBe('mark');
    expect(trace.events.map((e) => [e.name, e.tMs, e.n])).toEqual([
      ['mark', 0, 1000],
      ['relay', 20, 1001],
      ['trip', 390, 1002],
    ]);
    expect(trace.tMs[0]).toBe(-460);
    expect(trace.tMs.at(-1)).toBeLessThanOrEqual(3500);
    expect(trace.currentA[0]).toBe(191);
    expect(trace.plugV[0]).toBe(3 * 191);
  });
  it('is counted from what acted when the fault was long ago, and still holds the fault', () => {
    const trace = traceOf(line(50_000, { mark: 5000, relay: 39_500, trip: 39_600 }), stepOf());
    expect(trace.zero).toBe('relay');
    expect(trace.events[0]).toMatchObject({ name: 'mark', tMs: -34_500 });
    expect(Math.min(...trace.tMs)).toBeGreaterThanOrEqual(-500);
  });
  it('is the whole session where figures of it all are asked for, thinned and saying so', () => {
    const trace = traceOf(line(60_000, { stop: 50_000, released: 55_000 }), stepOf(FIGURE));
    expect(trace.zero).toBe('stop');
    expect(trace.tMs[0]).toBe(-50_000);
    expect(trace.every).toBe(4);
    expect(trace.tMs.length).toBe(Math.ceil(1201 / 4));
  });
  it('has a zero although nothing happened', () => {
    const trace = traceOf(line(100, {}), stepOf({ ...FIGURE, ends: { outcome: 'refused', exit: 4 } }));
    expect(trace.zero).toBe('end of the record');
    expect(trace.tMs).toEqual([-100, -50, 0]);
    expect(trace.events).toEqual([]);
  });
});
