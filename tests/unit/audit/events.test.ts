/** A session that flickers for a day: its beginning and its end are kept, what lies between is counted. */
import { describe, expect, it } from 'vitest';
import type { Entry } from '../../../src/audit/entry.js';
import { Events } from '../../../src/audit/events.js';

const finding = (n: number): Entry => ({
  ...{ n, tMs: n, k: 'finding', port: -1, line: null, sent: [] },
  b: {
    code: 'cable-derated',
    part: null,
    failing: n % 2 === 0,
    reading: 1,
    limit: 1,
    unit: 'A',
    setting: 'x',
  },
});

describe('events', () => {
  it('are all kept while a person could read them', () => {
    const events = new Events();
    for (let n = 0; n < 4000; n++) events.take(finding(n));
    expect({ kept: events.list.length, left: events.dropped }).toEqual({ kept: 4000, left: 0 });
  });
  it('lose the middle, never the trip at the end', () => {
    const events = new Events();
    const count = 100_000;
    for (let n = 0; n < count; n++) events.take(finding(n));
    expect(events.list.length + events.dropped).toBe(count);
    expect(events.list.length).toBeLessThan(5000);
    expect(events.list[0]?.n).toBe(0);
    expect(events.list.at(-1)?.n).toBe(count - 1);
    expect(events.list.at(-1000)?.n).toBe(count - 1000);
  });
});
