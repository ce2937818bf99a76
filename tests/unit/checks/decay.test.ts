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

describe('a side that is fed while it is bled', () => {
  // 0.5 A through 68 Ω: it comes to rest at 34 V, falling ever more slowly on the way.
  const fed = curve(690, 690, 60).map((s, k) => {
    const at = (ms: number): number => 34 + 656 * Math.exp(-Math.max(0, ms) / 690);
    return { ...s, volts: at(k * 50), mostV: at((k - 1) * 50), leastV: at(k * 50), chassisV: at(k * 50) / 2 };
  });
  const rests = follow({ ...output, tauMs: 690 }, fed);
  const restless = (byV: number): SideState =>
    follow(
      { ...output, tauMs: 690 },
      Array.from({ length: 40 }, (_, k) => sample(3000 + k * 50, k % 2 === 0 ? 34 : 34 + byV)),
      rests,
    );
  it('has not been followed down: it slowed before it was safe', () => {
    expect(unproven(rests)).toBe(true);
  });
  it('is not proven dead by the noise of its voltmeter', () => {
    expect(isDead(restless(1.5))).toBe(false);
    expect(unproven(restless(2.4))).toBe(true);
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

/** Live at these volts at 10 s, with so many samples on the curve before. */
const at = (volts: number, onCurve = 0): SideState => ({
  ...UNSEEN,
  live: true,
  volts,
  tMs: 10_000,
  onCurve,
});
/** The next sample, its extremes reaching back to what was there before. */
const next = (from: SideState, volts: number, more: Partial<SideSample> = {}, rule = output): SideState =>
  followSide(from, sample(10_050, volts, Math.max(from.volts, volts), volts, more), rule);

describe('the limits of one sample', () => {
  // 60 V less the 2 V by which a voltmeter may err.
  it.each(['volts', 'mostV', 'chassisV'] as const)('is below with %s at 58 V, and with no more', (field) => {
    const reads = (volts: number) => followSide(UNSEEN, sample(0, 1, 1, 1, { [field]: volts }), output).below;
    expect(reads(58)).toBe(1);
    expect(reads(58.1)).toBe(0);
    expect(reads(Number.NaN)).toBe(0);
  });
  it.each(['volts', 'mostV', 'otherV'] as const)('is live with %s above 60 V', (field) => {
    const reads = (volts: number) => followSide(UNSEEN, sample(0, 1, 1, 1, { [field]: volts }), output).live;
    expect(reads(60)).toBe(false);
    expect(reads(60.1)).toBe(true);
    expect(reads(Number.NaN)).toBe(false);
  });
  it('is dead, or unproven, in the third sample below', () => {
    const jumped = [0, 50, 100].map((t) => sample(10_050 + t, 0));
    for (const [count, told] of [
      [1, false],
      [2, false],
      [3, true],
    ] as const) {
      expect(unproven(follow(output, jumped.slice(0, count), at(720)))).toBe(told);
      expect(isDead(follow(output, jumped.slice(0, count), at(5, 2)))).toBe(told);
    }
    expect(unproven(at(720))).toBe(false);
  });
  it('forgets what was followed when the voltage stands or rises above 60 V: by 5 V it is its own noise', () => {
    expect(next(at(100, 3), 94.9)).toMatchObject({ onCurve: 4 });
    expect(next(at(100, 3), 95)).toMatchObject({ onCurve: 0, live: true });
    expect(next({ ...at(100, 3), jumped: true }, 104)).toMatchObject({
      onCurve: 0,
      jumped: false,
      live: true,
    });
    // At 60 V and less there is nothing to be followed anew.
    expect(next(at(62, 3), 60.1)).toMatchObject({ onCurve: 0 });
    expect(next(at(62, 3), 60)).toMatchObject({ onCurve: 3 });
    expect(next(at(40, 3), 40)).toMatchObject({ onCurve: 3 });
  });
  it('sees no jump from 5 V down', () => {
    expect(next(at(5), 0, { mostV: 0 })).toMatchObject({ jumped: false, live: true });
    expect(next(at(5.1), 0, { mostV: 0 })).toMatchObject({ jumped: true, live: true });
  });
  it('calls a fall sudden below half of the last sample, and then wants it linked', () => {
    expect(next(at(720, 1), 360, { mostV: 360 })).toMatchObject({ onCurve: 1 });
    expect(next(at(720, 1), 359, { mostV: 359 })).toMatchObject({ onCurve: 0, jumped: false, live: true });
    // Down at 60 V it is no gap in the reports any more.
    expect(next(at(720, 1), 60.1, { mostV: 60.1 })).toMatchObject({ onCurve: 0, jumped: false });
    expect(next(at(720, 1), 60, { mostV: 60 })).toMatchObject({ onCurve: 0, jumped: true });
    expect(next(at(720, 3), Number.NaN)).toMatchObject({ onCurve: 0, jumped: true, live: true });
  });
});

describe('a sample on the curve', () => {
  it('falls no more slowly than two and a half of the bleeder’s time constants', () => {
    // 50 ms with 1200 ms: 720 V fall to 690.6 V.
    expect(next(at(720), 690)).toMatchObject({ onCurve: 1, jumped: false, live: true });
    expect(next(at(720), 691)).toMatchObject({ onCurve: 0 });
    expect(next(at(20, 1), 0)).toMatchObject({ jumped: true });
  });
  it('falls, when sudden, no faster than two and a half times the bleeder', () => {
    // 150 ms with 192 ms: 720 V fall to 329.6 V, and 5 V are noise.
    const late = { tMs: 10_150, mostV: 0 };
    expect(next(at(720), 325, late)).toMatchObject({ onCurve: 1 });
    expect(next(at(720, 1), 324, late)).toMatchObject({ onCurve: 0, live: true });
  });
  it('counts only while bled', () => {
    expect(next(at(720, 1), 600, { bleeding: false })).toMatchObject({ onCurve: 1, jumped: false });
    expect(next(at(720, 1), 325, { bleeding: false, tMs: 10_150 })).toMatchObject({ onCurve: 0 });
  });
  it('begins where the last one ended, within a quarter', () => {
    expect(next(at(720), 600, { mostV: 540 })).toMatchObject({ onCurve: 1 });
    expect(next(at(720), 600, { mostV: 539.9 })).toMatchObject({ onCurve: 0, jumped: false });
  });
  it.each([
    [75, false],
    [76, true],
    [175, true],
    [176, false],
  ])('after %s ms may stand for lost reports: %s', (gapMs, forgiven) => {
    const lost = (more: Partial<SideSample>) =>
      next(at(720), 0.5, { tMs: 10_000 + gapMs, mostV: 0.5, ...more }, plug);
    expect(lost({})).toMatchObject({ onCurve: forgiven ? 2 : 0, jumped: !forgiven });
    expect(lost({ bleeding: false })).toMatchObject({ onCurve: 0, jumped: true });
  });
  it('links a longer gap once two samples lay on the curve, and counts nothing for it', () => {
    // 250 ms with 192 ms: 720 V may fall to 195.8 V.
    const gap = { tMs: 10_250, mostV: 250 };
    expect(next(at(720, 2), 250, gap)).toMatchObject({ onCurve: 2, jumped: false });
    expect(next(at(720, 1), 250, gap)).toMatchObject({ onCurve: 0 });
    expect(next(at(720, 2), 8, { ...gap, mostV: 8 }, plug)).toMatchObject({ onCurve: 2, jumped: false });
  });
});

describe('a fall within one report', () => {
  const falls = (volts: number, more: Partial<SideSample> = {}, rule = plug) =>
    next(at(720), volts, more, rule).onCurve;
  it('makes a decay of its own, down to 58 V', () => {
    expect(falls(58)).toBe(2);
    expect(falls(58.1)).toBe(1);
    // Nobody bled it, or it is no fall of this side's.
    expect(falls(8, { bleeding: false })).toBe(0);
    expect(falls(56, {}, { ...plug, tauMs: 49 })).toBe(2);
    expect(falls(56, {}, { ...plug, tauMs: 50 })).toBe(1);
  });
  it('is sudden, or none: half of a small voltage is not', () => {
    expect(next(at(100), 52, {}, plug)).toMatchObject({ onCurve: 0 });
    expect(next(at(100), 49, {}, plug)).toMatchObject({ onCurve: 2 });
  });
});
