/** The hour of points, the view of it, the list of events and whether the server is heard. */
import { describe, expect, it } from 'vitest';
import { TRACE_COLUMNS } from '../../../src/page/api.js';
import { Hearing, RETRY_MS, SILENT_MS } from '../../../src/page/client/connection.js';
import type { PageEvent, Row } from '../../../src/page/client/contract.js';
import { EventLog, KEPT_EVENTS } from '../../../src/page/client/event-log.js';
import { invitationIn, linkFor, withoutInvitation } from '../../../src/page/client/invitation.js';
import { FIELDS, KEPT_POINTS, TraceStore } from '../../../src/page/client/trace-store.js';
import {
  between,
  following,
  moved,
  nearest,
  shownRange,
  zoomed,
} from '../../../src/page/client/view-span.js';

/** A point of session time `s`; its volts are the same number, so that it can be recognised. */
const point = (s: number): Row => [s * 1000, s, null, null, null, null, null, 1, null, null, null, null];
const points = (from: number, count: number): Row[] =>
  Array.from({ length: count }, (_, i) => point((from + i) * 0.2));

describe('the hour of points', () => {
  it('has the columns of the contract, in their order', () => {
    expect(['atMs', ...FIELDS]).toEqual([...TRACE_COLUMNS]);
  });
  it('takes each number once, however messages overlap', () => {
    const store = new TraceStore();
    expect(store.add(10, points(10, 5))).toBeNull();
    expect(store.add(12, points(12, 5))).toBeNull();
    expect(store.add(9, points(9, 3))).toBeNull();
    expect(store.next).toBe(17);
    expect(store.columns.outputV).toEqual(points(10, 7).map((p) => p[1]));
  });
  it('names the first number that is missing and takes nothing beyond the gap', () => {
    const store = new TraceStore();
    store.add(0, points(0, 5));
    expect(store.add(8, points(8, 2))).toBe(5);
    expect(store.x).toHaveLength(5);
    store.refill(5, points(5, 5));
    expect(store.columns.outputV).toEqual(points(0, 10).map((p) => p[1]));
  });
  it('leaves a gap where the server has nothing any more', () => {
    const store = new TraceStore();
    store.add(0, points(0, 3));
    store.refill(6, points(6, 2));
    expect(store.next).toBe(8);
    expect(store.columns.outputV.map((v) => v === null)).toEqual([false, false, false, true, false, false]);
    for (let i = 1; i < store.x.length; i++) expect(store.x[i]).toBeGreaterThan(store.x[i - 1] as number);
  });
  it('keeps an hour in arrays that stay the same objects, all of one length', () => {
    const store = new TraceStore();
    const { x } = store;
    const { outputV } = store.columns;
    for (let first = 0; first < 25_000; first += 250) store.add(first, points(first, 250));
    expect(store.x).toBe(x);
    expect(store.columns.outputV).toBe(outputV);
    expect(x.length).toBeGreaterThanOrEqual(KEPT_POINTS);
    expect(x.length).toBeLessThanOrEqual(KEPT_POINTS + 600);
    for (const field of FIELDS) expect(store.columns[field]).toHaveLength(x.length);
    expect(outputV.at(-1)).toBeCloseTo(24_999 * 0.2, 6);
    expect(outputV[0]).toBeCloseTo((25_000 - x.length) * 0.2, 6);
  });
  it('goes on over sessions and still tells the time of each', () => {
    const store = new TraceStore();
    store.add(0, [point(100), point(101), point(0), point(2), point(3)]);
    for (let i = 1; i < store.x.length; i++) expect(store.x[i]).toBeGreaterThan(store.x[i - 1] as number);
    expect(store.origins).toHaveLength(2);
    const told = store.x.map((x) => store.sessionMsAt(x));
    [100_000, 101_000, 0, 2000, 3000].forEach((ms, i) => {
      expect(told[i]).toBeCloseTo(ms, 3);
    });
  });
  it('forgets sessions of which no point is left', () => {
    const store = new TraceStore();
    store.add(0, points(0, 10));
    for (let first = 10; first < 20_010; first += 1000) store.add(first, points(first - 10, 1000));
    expect(store.origins).toHaveLength(1);
    expect(store.sessionMsAt(store.endS)).toBeCloseTo(19_999 * 200, 0);
  });
  it('names the limit that bound', () => {
    const store = new TraceStore();
    store.bindings = ['cable', 'operator'];
    store.add(0, [point(0), [200, 1]]);
    expect(store.bindingAt(0)).toBe('operator');
    expect(store.bindingAt(1)).toBe('');
    expect(store.bindingAt(7)).toBe('');
  });
});

describe('the view', () => {
  it('ends at the newest point while it follows, and stands still when chosen', () => {
    expect(shownRange(following(60), 500)).toEqual([440, 500]);
    expect(shownRange(between(120, 100), 500)).toEqual([100, 120]);
    expect(between(100, 100).spanS).toBeGreaterThan(0);
  });
  it('zooms about its middle, about its end while following, and not beyond what there is', () => {
    expect(shownRange(zoomed(between(100, 200), 0.5, 3600), 500)).toEqual([125, 175]);
    expect(shownRange(zoomed(following(100), 0.5, 3600), 500)).toEqual([450, 500]);
    expect(zoomed(following(3600), 2, 3600).spanS).toBe(3600);
  });
  it('moves between the oldest and the newest, and follows again past the newest', () => {
    expect(shownRange(moved(following(100), -0.5, 0, 500), 500)).toEqual([350, 450]);
    expect(moved(between(350, 450), 0.5, 0, 500)).toEqual(following(100));
    expect(shownRange(moved(between(20, 120), -0.5, 0, 500), 500)).toEqual([0, 100]);
  });
  it('finds the nearest point', () => {
    const row = [0, 1, 2, 5];
    expect([-3, 0.4, 0.6, 3.4, 3.6, 9].map((x) => nearest(row, x))).toEqual([0, 0, 1, 2, 3, 3]);
    expect(nearest([], 1)).toBe(-1);
  });
});

const event = (id: number): PageEvent => ({
  id,
  atMs: id,
  sessionMs: id,
  wallMs: 0,
  kind: 'phase',
  text: String(id),
  code: null,
  firstOut: false,
  refusal: null,
});
const ids = (events: readonly PageEvent[]): number[] => events.map((e) => e.id);

describe('the list of events', () => {
  it('takes each once and keeps them in order', () => {
    const log = new EventLog();
    expect(ids(log.add([event(1), event(2)]))).toEqual([1, 2]);
    expect(ids(log.add([event(4), event(4)]))).toEqual([4]);
    expect(ids(log.add([event(2), event(3), event(4), event(5)]))).toEqual([3, 5]);
    expect(ids(log.events)).toEqual([1, 2, 3, 4, 5]);
    expect(log.last).toBe(5);
  });
  it('is bounded and takes back nothing that it dropped', () => {
    const log = new EventLog();
    for (let id = 1; id <= KEPT_EVENTS + 5; id++) log.add([event(id)]);
    expect(log.events).toHaveLength(KEPT_EVENTS);
    expect(log.add([event(3)])).toEqual([]);
    expect(log.events[0]?.id).toBe(6);
  });
});

describe('hearing the server', () => {
  it('is lost at once when the stream breaks, and after a silence that nobody noticed', () => {
    const hearing = new Hearing();
    expect(hearing.lost(1e6)).toBe(false);
    hearing.heard(1000);
    expect(hearing.lost(1000 + SILENT_MS)).toBe(false);
    expect(hearing.lost(1001 + SILENT_MS)).toBe(true);
    hearing.heard(10_000);
    expect(hearing.lost(10_100)).toBe(false);
    hearing.broke(10_200, false);
    expect(hearing.lost(10_200)).toBe(true);
    expect(hearing.silentS(12_000)).toBe(2);
    hearing.heard(12_500);
    expect(hearing.lost(12_600)).toBe(false);
  });
  it('tries again itself only where the browser gave up, once each time', () => {
    const hearing = new Hearing();
    hearing.broke(0, false);
    expect(hearing.retryDue(1e6)).toBe(false);
    hearing.broke(1e6, true);
    expect(hearing.retryDue(1e6 + RETRY_MS - 1)).toBe(false);
    expect(hearing.retryDue(1e6 + RETRY_MS)).toBe(true);
    expect(hearing.retryDue(1e6 + RETRY_MS)).toBe(false);
  });
});

describe('the invitation in the address', () => {
  it('is read from the fragment and left out of what stays', () => {
    expect(invitationIn('#invitation=abc-_123')).toBe('abc-_123');
    expect(invitationIn('#other=1')).toBeNull();
    expect(invitationIn('#invitation=')).toBeNull();
    expect(invitationIn('')).toBeNull();
    expect(withoutInvitation('/', '?x=1')).toBe('/?x=1');
    expect(invitationIn(new URL(linkFor('http://host:1', 'a+b/c=')).hash)).toBe('a+b/c=');
  });
});
