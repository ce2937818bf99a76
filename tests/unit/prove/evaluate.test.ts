/** What is made of a timeline: who acted first, times over clocks, and what says nothing. */
import { describe, expect, it } from 'vitest';
import { evaluate } from '../../../src/prove/evaluate.js';
import { figureOf, timeBetween } from '../../../src/prove/measure.js';
import { type Step, stepSchema } from '../../../src/prove/procedure.js';
import type { Moment, Sample, TimedEvent, Timeline } from '../../../src/prove/timeline.js';
import type { EventName } from '../../../src/prove/vocabulary.js';
import { loadRig } from '../../../src/rig/load.js';

const loaded = loadRig('depot-cable');
const { rig } = loaded;
const moment = (atMs: number, halfMs = 1, clock = 0): Moment => {
  const span = { loMs: atMs - halfMs, atMs, hiMs: atMs + halfMs };
  return { ...span, own: { ...span, clock } };
};
let n = 0;
const event = (name: EventName, at: Moment, detail = '', value = 0): TimedEvent => ({
  ...at,
  name,
  detail,
  value,
  n: n++,
});
const sample = (atMs: number, currentA: number, more: Partial<Sample> = {}): Sample =>
  ({
    ...moment(atMs),
    n: n++,
    setpointA: 30,
    gap: false,
    meter: {
      sample: atMs,
      currentA,
      currentMinA: currentA,
      currentMaxA: currentA,
      outputV: 750,
      outputMaxV: 750,
    },
    ...more,
  }) as unknown as Sample;
const timeline = (events: TimedEvent[], samples: Sample[] = []): Timeline => ({
  ...{ samples, poles: [], welcomes: [], energising: { before: 3, after: 0 }, lostReports: 0, end: null },
  events: [...events].sort((a, b) => a.atMs - b.atMs),
});

const step = (by: string, more: object = {}): Step =>
  stepSchema.parse({
    ...{ step: 's', title: 'step', wish: { maxCurrentA: 30 }, ends: { outcome: 'tripped', exit: 3 } },
    protection: {
      ...{ name: 'the protection', by, evidence: 'its contact' },
      ...(by === 'hard-wired' ? { relay: 'pilot' } : {}),
    },
    ...(by === 'hard-wired' ? { observe: { codes: ['loop-open'], forMs: 400 } } : {}),
    see: [{ figure: 'energisedOrders', atMost: { value: 9, source: 'some' } }],
    ...more,
  });
const TRIPPED = { outcome: 'tripped', endReason: 'operator', trip: { code: 'loop-open', phase: 'ramping' } };
const judged = (asked: Step, events: TimedEvent[]) => evaluate(asked, timeline(events), TRIPPED, 3, loaded);

const MARK = event('mark', moment(0));
const relay = (atMs: number, which = 'pilot') => event('relay', moment(atMs), which);
const ordered = (atMs: number, halfMs = 1) => event('make-safe', moment(atMs, halfMs), 'ordered');
const byItself = (atMs: number) => event('make-safe', moment(atMs), 'watchdog');

describe('who acted first', () => {
  it.each([
    ['the relay, the supervisor after it', 'hard-wired', [relay(20), ordered(60)], 'hard-wired', 'pass'],
    ['only the supervisor, where a relay must', 'hard-wired', [ordered(60)], 'supervisor', 'fail'],
    ['the supervisor before the relay', 'hard-wired', [relay(90), ordered(60)], 'supervisor', 'fail'],
    [
      'another relay than the one under proof',
      'hard-wired',
      [relay(20, 'over-voltage')],
      'hard-wired',
      'fail',
    ],
    ['the device, where a relay must', 'hard-wired', [byItself(50)], 'device', 'fail'],
    ['nobody, where a relay must', 'hard-wired', [], 'nobody', 'fail'],
    [
      'the relay, and the supervisor may have been as quick',
      'hard-wired',
      [relay(20), ordered(40, 25)],
      'hard-wired',
      'inconclusive',
    ],
    ['the device by itself', 'device', [byItself(300)], 'device', 'pass'],
    ['only the supervisor, where the device must', 'device', [ordered(300)], 'supervisor', 'fail'],
    ['a relay, before the device could', 'device', [relay(20), byItself(300)], 'hard-wired', 'inconclusive'],
    ['nobody, where the device must', 'device', [], 'nobody', 'fail'],
    ['the supervisor', 'supervisor', [ordered(60)], 'supervisor', 'pass'],
    [
      'the supervisor by a ramp down',
      'supervisor',
      [event('stop', moment(60), 'ramping-down')],
      'supervisor',
      'pass',
    ],
    [
      'a relay, before the supervisor could',
      'supervisor',
      [relay(20), ordered(60)],
      'hard-wired',
      'inconclusive',
    ],
    ['nobody, where the supervisor must', 'supervisor', [], 'nobody', 'fail'],
    ['whoever, where a figure is held', 'regulation', [ordered(60)], 'supervisor', 'pass'],
  ] as const)('%s', (_, by, events, who, verdict) => {
    const { first, verdict: found, deviations } = judged(step(by), [MARK, ...events]);
    expect(first.by).toBe(who);
    expect(found).toBe(verdict);
    expect(deviations.length > 0).toBe(verdict !== 'pass');
  });

  it('knows that what was ordered came after it was decided, whatever the clocks allow', () => {
    const decided = event('trip', { ...moment(40), loMs: 22, hiMs: 60 });
    expect(judged(step('hard-wired'), [MARK, relay(20), decided, ordered(40, 25)]).verdict).toBe('pass');
  });

  it('is not asked of a start that was refused', () => {
    const refused = step('supervisor', { ends: { outcome: 'refused', exit: 4, codes: ['latched'] } });
    const ended = { outcome: 'refused', endReason: 'latched', trip: null };
    expect(evaluate(refused, timeline([]), ended, 4, loaded).verdict).toBe('pass');
    const other = { ...ended, endReason: 'reading-stale' };
    expect(evaluate(refused, timeline([]), other, 4, loaded).deviations).toEqual([
      'for reading-stale, expected latched',
    ]);
  });
});

describe('how it ended', () => {
  it('must be as the step says, in every word', () => {
    const asked = step('supervisor', {
      ends: { outcome: 'tripped', exit: 3, codes: ['bond-lost'], phase: 'holding' },
    });
    const { verdict, deviations } = evaluate(asked, timeline([MARK, ordered(60)]), TRIPPED, 9, loaded);
    expect(verdict).toBe('fail');
    expect(deviations).toEqual([
      'exit 9, expected 3',
      'for loop-open, expected bond-lost',
      'in ramping, expected holding',
    ]);
  });
});

describe('a time', () => {
  const falling = [10, 10, 10, 10, 0, 0, 0].map((a, k) => sample(50 * k, a));

  it('holds what a report cannot tell: from the report before the last current to the one after', () => {
    const found = timeBetween(timeline([event('mark', moment(120))], falling), 'mark', 'current-zero', rig);
    // 10 A last at 150, whose extremes begin at 100; gone since 150, for those of 200 begin there.
    expect(found).toMatchObject({ value: 30 });
    const { lo, hi } = found as { lo: number; hi: number };
    expect(lo).toBeCloseTo(100 - 120 - 2, 1);
    expect(hi).toBeCloseTo(150 - 120 + 2, 1);
  });

  it('does not trust a current that is within the error of the meter', () => {
    const near = [...falling.slice(0, 4), sample(200, rig.contactors.routineBreakA), ...falling.slice(5)];
    const { hi } = timeBetween(timeline([event('mark', moment(120))], near), 'mark', 'current-zero', rig) as {
      hi: number;
    };
    expect(hi).toBeCloseTo(200 - 120 + 2, 1);
  });

  it('is longer by every report that never came', () => {
    const lost = falling.filter((s) => s.atMs !== 250).map((s) => (s.atMs === 300 ? { ...s, gap: true } : s));
    const { hi } = timeBetween(timeline([event('mark', moment(120))], lost), 'mark', 'current-zero', rig) as {
      hi: number;
    };
    expect(hi).toBeCloseTo(300 - 120 + 2, 1);
  });

  it('says nothing where it was so before the cause came, or the cause was not timed', () => {
    const line = timeline([event('mark', moment(290))], falling);
    expect(timeBetween(line, 'mark', 'current-zero', rig)).toBe('before-cause');
    expect(timeBetween(timeline([], falling), 'mark', 'current-zero', rig)).toBe('no-cause');
    const asked = step('supervisor', {
      see: [{ time: 'current-zero', withinMs: { value: 150, source: 'some' } }],
    });
    expect(
      evaluate(asked, { ...line, events: [...line.events, ordered(300)] }, TRIPPED, 3, loaded).verdict,
    ).toBe('inconclusive');
  });

  it('between two moments of one clock needs no bringing over', () => {
    const host = (atMs: number): Moment => ({
      ...moment(atMs, 30),
      own: { loMs: atMs, atMs, hiMs: atMs, clock: -1 },
    });
    const line = timeline([event('finding', host(100)), event('trip', host(140))]);
    const { lo, hi } = timeBetween(line, 'finding', 'trip', rig) as { lo: number; hi: number };
    expect(hi - lo).toBeLessThan(0.1);
  });

  it('to a relay is one to the relay under proof, not to whichever comes first', () => {
    const line = timeline([MARK, relay(5, 'over-voltage'), relay(20)]);
    expect(timeBetween(line, 'mark', 'relay', rig, 'pilot')).toMatchObject({ value: 20 });
    expect(timeBetween(timeline([relay(-40), MARK]), 'mark', 'relay', rig, 'pilot')).toMatchObject({
      value: Number.NaN,
    });
  });

  it('that ends before it may is told as such', () => {
    const limit = (value: number) => ({ value, source: 'some' });
    const asked = step('supervisor', {
      see: [{ time: 'make-safe', withinMs: limit(100), notBeforeMs: limit(50) }],
    });
    expect(judged(asked, [MARK, ordered(40)]).verdict).toBe('fail');
    expect(judged(asked, [MARK, ordered(51)]).verdict).toBe('inconclusive');
    expect(judged(asked, [MARK, ordered(60)]).verdict).toBe('pass');
  });
});

describe('a figure', () => {
  it('with one reading missing is not the greatest of the others', () => {
    const peak = (...a: number[]) =>
      figureOf(
        timeline(
          [],
          a.map((x, k) => sample(50 * k, x)),
        ),
        'peakCurrentA',
        rig,
      ).value;
    expect(peak(10, 40, 5)).toBe(40);
    for (const missing of [
      [Number.NaN, 40],
      [40, Number.NaN, 5],
      [5, Number.NaN],
    ])
      expect(peak(...missing)).toBeNaN();
    expect(peak()).toBeNaN();
  });

  it('after a fault counts nothing from before it, and nothing where none was made', () => {
    const volts = [900, 750, 790].map((v, k) =>
      sample(50 * k, 0, { meter: { ...sample(0, 0).meter, outputV: v, outputMaxV: v } } as Partial<Sample>),
    );
    expect(figureOf(timeline([event('mark', moment(80))], volts), 'peakOutputAfterV', rig).value).toBe(40);
    expect(figureOf(timeline([], volts), 'peakOutputAfterV', rig).value).toBeNaN();
  });

  it('of the silence is that of the slowest port', () => {
    const events = [event('watchdog', moment(0), '', 301), event('watchdog', moment(9), '', 340)];
    expect(figureOf(timeline(events), 'silentMs', rig)).toMatchObject({ value: 340, lo: 339, hi: 341 });
  });
});
