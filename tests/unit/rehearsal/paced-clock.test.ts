/** Virtual time paced by real time; both clocks are virtual here, so that nothing is left to the computer. */
import { describe, expect, it } from 'vitest';
import { VirtualClock } from '../../../simulators/virtual-clock.js';
import type { Clock } from '../../../src/host/clock.js';
import { PacedClock } from '../../../src/rehearsal/paced-clock.js';

function paced(real: Clock & { runUntil(tMs: number): number } = new VirtualClock()) {
  const errors: string[] = [];
  const virtual = new VirtualClock();
  const clock = new PacedClock(virtual, real, (error) => errors.push(error.message));
  return { real, virtual, clock, errors };
}

/** A real clock that can jump, as that of a process that was stopped, and on which work takes time. */
class Jumping extends VirtualClock {
  aheadMs = 0;
  override nowMs(): number {
    return super.nowMs() + this.aheadMs;
  }
}

/** One pump may be on its way still. */
const NEAR_MS = 20;

describe('paced time', () => {
  it('stands before it is started and after it was stopped', () => {
    const { real, virtual, clock } = paced();
    real.runUntil(500);
    expect(virtual.nowMs()).toBe(0);
    clock.start();
    real.runUntil(1500);
    const stoppedMs = virtual.nowMs();
    expect(stoppedMs).toBeGreaterThan(1000 - NEAR_MS);
    clock.stop();
    real.runUntil(5000);
    expect(virtual.nowMs()).toBe(stoppedMs);
    clock.start();
    real.runUntil(5100);
    expect(virtual.nowMs()).toBeLessThanOrEqual(stoppedMs + 100);
    expect(virtual.nowMs()).toBeGreaterThan(stoppedMs + 100 - NEAR_MS);
  });
  it.each([1, 5, 60])('runs at %s times real time', (speed) => {
    const { real, virtual, clock } = paced();
    clock.speed = speed;
    clock.start();
    real.runUntil(2000);
    expect(virtual.nowMs()).toBeLessThanOrEqual(2000 * speed);
    expect(virtual.nowMs()).toBeGreaterThan((2000 - NEAR_MS) * speed);
  });
  it('counts what passed before a change of the speed at the speed it passed at', () => {
    const { real, virtual, clock } = paced();
    clock.start();
    // In the middle between two pumps.
    real.runUntil(1007);
    clock.speed = 60;
    real.runUntil(1015);
    expect(virtual.nowMs()).toBeLessThanOrEqual(1007 + 8 * 60);
    clock.speed = 1;
    real.runUntil(1100);
    expect(virtual.nowMs()).toBeLessThanOrEqual(1007 + 8 * 60 + 85);
  });
  it('does everything at its own time and in order, with pauses between', () => {
    const { real, virtual, clock } = paced();
    const seen: [number, number][] = [];
    const every = (): void => {
      seen.push([virtual.nowMs(), real.nowMs()]);
      virtual.after(10, every);
    };
    virtual.after(10, every);
    clock.speed = 2;
    clock.start();
    real.runUntil(300);
    expect(seen.map(([atMs]) => atMs)).toEqual(seen.map((_, i) => 10 * (i + 1)));
    expect(seen.length).toBeGreaterThan(50);
    // Never ahead of its time, and not long behind it.
    expect(seen.every(([atMs, realMs]) => atMs <= 2 * realMs && atMs > 2 * (realMs - NEAR_MS))).toBe(true);
  });
  it('lets the time go in which the process was stopped', () => {
    const real = new Jumping();
    const { virtual, clock } = paced(real);
    clock.speed = 10;
    clock.start();
    real.runUntil(100);
    const beforeMs = virtual.nowMs();
    real.aheadMs = 3_600_000;
    real.runUntil(200);
    expect(virtual.nowMs() - beforeMs).toBeLessThan(10 * (250 + 100) + 1);
    expect(virtual.nowMs() - beforeMs).toBeGreaterThan(1000);
  });
  it('works for a bounded real time in one pump, and does not race after what it could not do', () => {
    const real = new Jumping();
    const { virtual, clock } = paced(real);
    let costMs = 1;
    const work = (): void => {
      real.aheadMs += costMs;
      virtual.after(1, work);
    };
    virtual.after(1, work);
    // Each millisecond of virtual time costs one of real time: sixty times real time cannot be kept.
    clock.speed = 60;
    clock.start();
    let longestMs = 0;
    for (let k = 0; k < 100; k++) {
      const beforeMs = real.aheadMs;
      real.step();
      longestMs = Math.max(longestMs, real.aheadMs - beforeMs);
    }
    expect(longestMs).toBeGreaterThan(1);
    expect(longestMs).toBeLessThanOrEqual(10);
    // Work is free from now on: no more comes than what passes, and what may be owed at most.
    costMs = 0;
    clock.speed = 1;
    const [atMs, realMs] = [virtual.nowMs(), real.nowMs()];
    for (let k = 0; k < 100; k++) real.step();
    expect(virtual.nowMs() - atMs).toBeLessThanOrEqual(real.nowMs() - realMs + 250);
    expect(virtual.nowMs() - atMs).toBeGreaterThan(1000);
  });
  it('tells what a callback threw, and runs on', () => {
    const { real, virtual, clock, errors } = paced();
    let later = false;
    virtual.after(50, () => {
      throw new Error('broken part');
    });
    virtual.after(60, () => {
      later = true;
    });
    clock.start();
    real.runUntil(200);
    expect(errors).toEqual(['broken part']);
    expect(later).toBe(true);
  });
  it('may be stopped from within', () => {
    const { real, virtual, clock } = paced();
    virtual.after(100, () => clock.stop());
    clock.speed = 60;
    clock.start();
    real.runUntil(1000);
    expect(virtual.nowMs()).toBe(100);
  });
  it.each([0, 0.5, 61, Number.NaN, Number.POSITIVE_INFINITY])('takes no speed of %s', (speed) => {
    const { clock } = paced();
    expect(() => {
      clock.speed = speed;
    }).toThrow(/from 1 to 60/);
    expect(clock.speed).toBe(1);
  });
});
