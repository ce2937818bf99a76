/** Events, points and pilot bursts: numbered without a gap, and never more of them than promised. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Wave } from '../../../src/link/frames.js';
import { type PageEvent, TRACE_COLUMNS } from '../../../src/page/api.js';
import { EventBook } from '../../../src/page/event-book.js';
import { Pilot } from '../../../src/page/pilot.js';
import { KEPT_POINTS, Traces } from '../../../src/page/traces.js';

const event = (text: string): Omit<PageEvent, 'id'> => ({
  ...{ atMs: 0, sessionMs: null, wallMs: 0, kind: 'session', text, code: null, firstOut: false },
  refusal: null,
});

describe('the book of events', () => {
  it('numbers from 1 and gives back what comes after a number, oldest first', () => {
    const book = new EventBook();
    expect([book.last, book.after(0, 9)]).toEqual([0, []]);
    for (let i = 1; i <= 5; i++) expect(book.add(event(`e${i}`)).id).toBe(i);
    expect(book.after(2, 9).map((e) => e.text)).toEqual(['e3', 'e4', 'e5']);
    expect(book.after(2, 2).map((e) => e.id)).toEqual([3, 4]);
    expect([book.after(5, 9), book.after(99, 9), book.after(0, 0)]).toEqual([[], [], []]);
  });
  it('loses none of the newest five thousand however many come, and stays bounded', () => {
    const book = new EventBook();
    for (let i = 1; i <= 23_456; i++) {
      book.add(event(''));
      if (i % 997 !== 0) continue;
      const all = book.after(0, 1e9);
      expect(all.length).toBeGreaterThanOrEqual(Math.min(i, 5000));
      expect(all.length).toBeLessThanOrEqual(10_000);
      expect(all.at(-1)?.id).toBe(i);
      expect(all.every((e, at) => at === 0 || e.id === (all[at - 1] as PageEvent).id + 1)).toBe(true);
    }
    // Whoever asks in pieces gets the same.
    const pieces: number[] = [];
    for (let id = 20_000; ; ) {
      const some = book.after(id, 200);
      if (some.length === 0) break;
      pieces.push(...some.map((e) => e.id));
      id = some.at(-1)?.id as number;
    }
    expect(pieces).toEqual(Array.from({ length: 3456 }, (_, i) => 20_001 + i));
  });
});

describe('the traces', () => {
  const point = (n: number): number[] => TRACE_COLUMNS.map((_, i) => (i === 0 ? n : 0));
  it('keep the last hour, numbered through', () => {
    const traces = new Traces();
    const total = KEPT_POINTS + 321;
    for (let i = 0; i < total; i++) traces.add(point(i));
    expect([traces.first, traces.next]).toEqual([321, total]);
    const all = traces.from(0);
    expect(all.first).toBe(321);
    expect(all.points.map((p) => p[0])).toEqual(Array.from({ length: KEPT_POINTS }, (_, i) => 321 + i));
  });
  it('answer any question with points that carry the number they are said to have', () => {
    const traces = new Traces();
    for (let i = 0; i < KEPT_POINTS + 50; i++) traces.add(point(i));
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 2 * KEPT_POINTS }),
        fc.integer({ min: 0, max: 700 }),
        (from, most) => {
          const { first, points } = traces.from(from, most);
          expect(points.length).toBeLessThanOrEqual(most);
          expect(first).toBeGreaterThanOrEqual(Math.min(from, traces.next));
          points.forEach((p, i) => {
            expect(p[0]).toBe(first + i);
          });
        },
      ),
      { numRuns: 200 },
    );
  });
  it('take no point of another shape', () => {
    const traces = new Traces();
    expect(() => traces.add([1, 2])).toThrow(/columns/);
    expect(traces.next).toBe(0);
  });
  it('number the limits they meet, and never more than two hundred', () => {
    const traces = new Traces();
    expect([traces.bindingOf('cable'), traces.bindingOf('raft'), traces.bindingOf('cable')]).toEqual([
      0, 1, 0,
    ]);
    for (let i = 0; i < 1000; i++) traces.bindingOf(`limit ${i}`);
    expect(traces.bindings).toHaveLength(200);
    expect(traces.bindings[traces.bindingOf('cable')]).toBe('cable');
  });
});

describe('a burst of pilot samples', () => {
  const part = (re: number, part: number, parts: number, samplesA = [10 * re + part]): Wave =>
    ({ verb: 'wave', re, part, parts, spacingNs: 500, samplesA }) as Wave;
  const taken = (...waves: Wave[]): Pilot => {
    const pilot = new Pilot();
    waves.forEach((wave, i) => void pilot.take(wave, 100 + i));
    return pilot;
  };
  it('is shown once every part is there, in the order of its parts', () => {
    const pilot = taken(part(1, 3, 3), part(1, 1, 3));
    expect([pilot.count, pilot.samplesA, pilot.atMs]).toEqual([0, [], null]);
    pilot.take(part(1, 2, 3), 200);
    expect(pilot).toMatchObject({ count: 1, samplesA: [11, 12, 13], atMs: 200, spacingNs: 500 });
  });
  it('is given up for another one, of which nothing is mixed in', () => {
    const pilot = taken(part(1, 1, 2), part(2, 2, 2), part(1, 2, 2));
    expect(pilot.count).toBe(0);
    pilot.take(part(1, 1, 2), 300);
    expect(pilot).toMatchObject({ count: 1, samplesA: [11, 12] });
  });
  it('takes a part that comes twice once', () => {
    expect(taken(part(1, 1, 2, [7]), part(1, 1, 2, [8]), part(1, 2, 2, [9]))).toMatchObject({
      count: 1,
      samplesA: [8, 9],
    });
  });
  it('that says of itself different numbers of parts is not put together from them', () => {
    // Three parts were announced, then two: what was kept belongs to another burst.
    const pilot = taken(part(1, 1, 3), part(1, 3, 3), part(1, 2, 2));
    expect(pilot.count).toBe(0);
  });
  it.each([
    [0, 2],
    [3, 2],
    [-1, 2],
    [1, 0],
    [1, 65],
    [1.5, 2],
    [Number.NaN, 2],
    [1, Number.NaN],
    [1, 1e12],
  ])('numbered %d of %d is left out', (n, of) => {
    const pilot = taken(part(1, n, of));
    expect([pilot.count, pilot.samplesA]).toEqual([0, []]);
    pilot.take(part(1, 1, 2), 1);
    pilot.take(part(1, 2, 2), 2);
    expect(pilot).toMatchObject({ count: 1, samplesA: [11, 12] });
  });
});
