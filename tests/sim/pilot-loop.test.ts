import { describe, expect, test } from 'vitest';
import {
  featuresOf,
  type LoopState,
  loopCurrentA,
  PilotLoop,
  SOUND_LOOP,
} from '../../simulators/pilot-loop.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { Bench } from './fixture.js';

const pilot = {
  sourceVrms: 12,
  sourceOhm: 1000,
  frequencyHz: 80,
  coreOhm: 45,
  diodeDropV: 0,
  samplesPerPeriod: 400,
  periodsPerWindow: 4,
  maxSeriesOhm: 45,
  minShuntOhm: 1250,
  genuineShuntOhm: 3000,
};

function features(rig: typeof pilot, part: Partial<LoopState>) {
  const n = rig.samplesPerPeriod;
  const state = { ...SOUND_LOOP, sourceOn: true, ...part };
  const wave = Float64Array.from({ length: n }, (_, k) =>
    loopCurrentA(Math.SQRT2 * rig.sourceVrms * Math.sin((2 * Math.PI * k) / n), rig, state),
  );
  const f = featuresOf(wave);
  return {
    mean: f.meanA * 1000,
    rms: f.rmsA * 1000,
    high: f.peakPositiveA * 1000,
    low: f.peakNegativeA * 1000,
  };
}

describe('pilot loop, W14', () => {
  test('ideal diode', () => {
    const f = features(pilot, {});
    expect(f.mean).toBeCloseTo(5.169, 2);
    expect(f.rms).toBeCloseTo(8.12, 2);
    expect(f.low).toBeCloseTo(0, 6);
  });

  test('a diode of 0.7 V', () => {
    const f = features({ ...pilot, diodeDropV: 0.7 }, {});
    // The example has a constant 0.7 V; a real diode drops a little less at small currents.
    expect(Math.abs(f.mean - 4.839)).toBeLessThan(0.06);
    expect(Math.abs(f.rms - 7.696)).toBeLessThan(0.06);
  });

  test('crushed: mean 0, r.m.s. 11.483', () => {
    const f = features({ ...pilot, diodeDropV: 0.7 }, { crushOhm: 0 });
    expect(f.mean).toBeCloseTo(0, 3);
    expect(f.rms).toBeCloseTo(11.483, 2);
  });

  test('open: nothing', () => {
    const f = features(pilot, { open: true });
    expect(f.rms).toBeLessThan(1e-12);
  });

  test('diode plus 1.25 kilohm shunt: peaks +16.264 / -7.542, asymmetry 0.366', () => {
    const f = features(pilot, { shuntOhm: 1250 });
    expect(f.high).toBeCloseTo(16.264, 2);
    expect(f.low).toBeCloseTo(-7.542, 2);
    expect((f.high + f.low) / (f.high - f.low)).toBeCloseTo(0.366, 3);
  });

  test('reversed is the mirror image', () => {
    const right = features({ ...pilot, diodeDropV: 0.7 }, {});
    const wrong = features({ ...pilot, diodeDropV: 0.7 }, { reversed: true });
    expect(wrong.mean).toBeCloseTo(-right.mean, 6);
    expect(wrong.low).toBeCloseTo(-right.high, 3);
  });
});

describe('pilot monitor', () => {
  test('a window that saw the loop open half-way shows half of it', () => {
    const loop = new PilotLoop(pilot, new SeededRandom(1));
    loop.change({ sourceOn: true }, 0);
    const whole = loop.features(100).meanA;
    loop.change({ open: true }, 125); // windows are 50 ms: 100 to 150
    expect(loop.features(150).meanA).toBeCloseTo(whole / 2, 4);
    expect(loop.features(200).meanA).toBeCloseTo(0, 4);
  });

  test('one sample a window, the same until the next', () => {
    const bench = new Bench();
    bench.order('pilot', { on: 1 });
    bench.go(225);
    const first = bench.world.read('loop');
    bench.go(20);
    expect(bench.world.read('loop')).toEqual(first);
    bench.go(10);
    expect(bench.world.read('loop').sample).toBe(first.sample + 1);
    const wave = bench.world.pilotWaveform();
    expect(featuresOf(wave.samplesA).meanA).toBeCloseTo(bench.world.read('loop').meanA, 12);
  });

  test('a leak creeps from 5 kilohm to its end', () => {
    const bench = new Bench({ inject: [{ fault: 'loop-leak', phase: 'start', afterS: 1 }] });
    bench.order('pilot', { on: 1 });
    bench.go(1500);
    const early = bench.world.read('loop').peakNegativeA;
    bench.go(5000);
    const late = bench.world.read('loop').peakNegativeA;
    expect(early).toBeLessThan(-2.5e-3);
    expect(early).toBeGreaterThan(-4.5e-3);
    expect(late).toBeLessThan(-8e-3); // 16.97 V over 2 kilohm
  });
});
