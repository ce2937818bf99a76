/** Dead by a voltmeter that followed the decay; W8: t = RC·ln(V0/60), ln 2.5257 at 750 V. */
import { describe, expect, it } from 'vitest';
import {
  followSide,
  isDead,
  type SideRule,
  type SideSample,
  type SideState,
  UNSEEN,
  unproven,
} from '../../../src/checks/decay.js';

const output: SideRule = { safeV: 60, tauMs: 480, stepMs: 50 };
const plug: SideRule = { safeV: 60, tauMs: 10, stepMs: 50 };
const sample = (
  tMs: number,
  volts: number,
  most = volts,
  least = volts,
  more: Partial<SideSample> = {},
): SideSample => ({
  tMs,
  volts,
  mostV: most,
  leastV: least,
  chassisV: volts / 2,
  otherV: Number.NaN,
  bleeding: true,
  ...more,
});
const follow = (rule: SideRule, samples: readonly SideSample[], from: SideState = UNSEEN): SideState =>
  samples.reduce((s, each) => followSide(s, each, rule), from);
const curve = (tauMs: number, fromV: number, steps: number): SideSample[] =>
  Array.from({ length: steps }, (_, k) =>
    sample(k * 50, fromV * Math.exp((-k * 50) / tauMs), fromV * Math.exp((-Math.max(0, k - 1) * 50) / tauMs)),
  );

describe('a voltmeter that never saw the side live', () => {
  const silent = (otherV: number): SideState =>
    follow(output, [
      ...Array.from({ length: 10 }, (_, k) => sample(k * 50, 0, 0, 0, { otherV })),
      ...Array.from({ length: 10 }, (_, k) => sample(500 + k * 50, 0, 0, 0)),
    ]);
  it('proves nothing where another instrument did', () => {
    expect(isDead(silent(700))).toBe(false);
    expect(unproven(silent(700))).toBe(true);
  });
  it('is believed where the other saw nothing either', () => {
    expect(isDead(silent(20))).toBe(true);
    expect(isDead(silent(Number.NaN))).toBe(true);
  });
});

describe('the converter side', () => {
  it('W8: 750 V through τ 0.48 s is below 60 V after 1.212 s, dead three samples later', () => {
    const atMs = 480 * Math.log(750 / 60);
    expect(atMs).toBeCloseTo(480 * 2.5257, 0);
    const steps = Math.ceil(atMs / 50) + 1;
    expect(isDead(follow(output, curve(480, 750, steps)))).toBe(false);
    expect(isDead(follow(output, curve(480, 750, steps + 5)))).toBe(true);
  });
  it('is never dead by a voltmeter that jumps to zero', () => {
    const s = follow(output, [...curve(480, 750, 3), ...[3, 4, 5, 6, 7, 8].map((k) => sample(k * 50, 0))]);
    expect(isDead(s)).toBe(false);
    expect(unproven(s)).toBe(true);
  });
  it('is not dead while a pole to chassis is live', () => {
    const tail = [0, 1, 2, 3].map((k) => sample(2000 + k * 50, 2, 2, 2, { chassisV: 80 }));
    expect(isDead(follow(output, [...curve(480, 750, 38), ...tail]))).toBe(false);
  });
  it('takes uncertainty the unfavourable way: 59 V is not below 60 V', () => {
    const s = follow(output, [
      ...curve(480, 750, 20),
      ...[20, 21, 22, 23].map((k) => sample(k * 50, 59 - k / 1e3)),
    ]);
    expect(isDead(s)).toBe(false);
  });
  it('was never live: three fresh samples are enough', () => {
    const cold = [0, 1, 2].map((k) => sample(k * 50, 1));
    expect(isDead(follow(output, cold.slice(0, 2)))).toBe(false);
    expect(isDead(follow(output, cold))).toBe(true);
  });
  it('picks the decay up again after a silence that ends on a live voltage', () => {
    const late = curve(480, 300, 24).map((each) => ({ ...each, tMs: each.tMs + 900 }));
    expect(isDead(follow(output, [sample(0, 750), ...late]))).toBe(true);
  });
});

describe('the plug side', () => {
  const live = [sample(0, 720), sample(50, 715, 720, 715)];
  const gone = [150, 200, 250].map((t) => sample(t, 0.5));
  it('is dead when one report reaches from the live voltage to the safe one', () => {
    expect(isDead(follow(plug, [...live, sample(100, 8, 714, 8), ...gone]))).toBe(true);
  });
  it('is not dead when that report shows no fall: 0 V from a dead meter frees nothing', () => {
    const s = follow(plug, [...live, sample(100, 0, 0, 0), ...gone]);
    expect(isDead(s)).toBe(false);
    expect(unproven(s)).toBe(true);
  });
  it('is not dead when it fell without a bleeder', () => {
    const quiet = [...live, sample(100, 8, 714, 8), ...gone].map((each) => ({ ...each, bleeding: false }));
    expect(isDead(follow(plug, quiet))).toBe(false);
  });
  it('forgives a lost report or two, not a longer silence', () => {
    const goneAfter = (ms: number): SideSample[] => [0, 50, 100, 150].map((t) => sample(50 + ms + t, 0.5));
    expect(isDead(follow(plug, [...live, ...goneAfter(100)]))).toBe(true);
    expect(isDead(follow(plug, [...live, ...goneAfter(400)]))).toBe(false);
  });
  it('is live again when the voltage returns, and must be followed anew', () => {
    const dead = follow(plug, [...live, sample(100, 8, 714, 8), ...gone]);
    const again = follow(plug, [sample(300, 720, 720, 0)], dead);
    expect(isDead(again)).toBe(false);
    expect(
      isDead(
        follow(
          plug,
          [350, 400, 450].map((t) => sample(t, 0, 0, 0)),
          again,
        ),
      ),
    ).toBe(false);
  });
});
