import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { VIRTUAL_EPOCH_MS, VirtualClock } from '../../simulators/virtual-clock.js';

describe('virtual clock', () => {
  it('runs callbacks by time, then by the order they were asked for', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 20 }), { maxLength: 200 }), (delays) => {
        const clock = new VirtualClock();
        const ran: [number, number][] = [];
        delays.forEach((delay, i) => {
          clock.after(delay, () => ran.push([clock.nowMs(), i]));
        });
        clock.runUntil(20);
        const expected = delays
          .map((d, i): [number, number] => [d, i])
          .sort((a, b) => a[0] - b[0] || a[1] - b[1]);
        expect(ran).toEqual(expected);
      }),
      { seed: 20300101, numRuns: 200 },
    );
  });

  it('does not jump past what a callback asks for', () => {
    const clock = new VirtualClock();
    const at: number[] = [];
    const chain = () => {
      at.push(clock.nowMs());
      if (at.length < 4) clock.after(10, chain);
    };
    clock.after(10, chain);
    clock.runUntil(1000);
    expect(at).toEqual([10, 20, 30, 40]);
    expect(clock.nowMs()).toBe(1000);
  });

  it('forgets what was cancelled, also from within a callback', () => {
    const clock = new VirtualClock();
    const ran: string[] = [];
    const cancel = clock.after(5, () => ran.push('a'));
    clock.after(4, () => cancel());
    const own = clock.after(6, () => own());
    clock.runUntil(10);
    expect(ran).toEqual([]);
    expect(clock.nextMs).toBe(Number.POSITIVE_INFINITY);
  });

  it('stops early when told it is enough, and stands where it stopped', () => {
    const clock = new VirtualClock();
    let n = 0;
    for (let i = 1; i <= 5; i++) clock.after(i, () => n++);
    expect(clock.runUntil(10, () => n === 3)).toBe(3);
    expect(clock.nextMs).toBe(4);
    expect(clock.step()).toBe(true);
    expect(clock.nowMs()).toBe(4);
  });

  it('has a wall time nobody mistakes for a real one, and never goes back', () => {
    const clock = new VirtualClock();
    expect(new Date(clock.wallMs()).toISOString()).toBe('2030-01-01T00:00:00.000Z');
    clock.runUntil(1500);
    clock.runUntil(3);
    expect(clock.wallMs()).toBe(VIRTUAL_EPOCH_MS + 1500);
    let ran = false;
    clock.after(-5, () => {
      ran = true;
    });
    clock.after(Number.NaN, () => {});
    clock.runUntil(1500);
    expect(ran).toBe(true);
  });
});
