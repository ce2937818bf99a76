import { describe, expect, test } from 'vitest';
import { type PilotCircuit, seenFromCharger, settledPeriod } from '../../simulators/pilot-circuit.js';
import { featuresOf, loopCurrentA, PilotLoop, SOUND_LOOP } from '../../simulators/pilot-loop.js';
import { recordPilot } from '../../simulators/pilot-recording.js';
import { SeededRandom } from '../../simulators/seeded-random.js';

const rig = {
  sourceVrms: 12,
  sourceOhm: 1000,
  frequencyHz: 80,
  coreOhm: 30,
  diodeDropV: 0.7,
  samplesPerPeriod: 100,
  periodsPerWindow: 4,
  maxSeriesOhm: 45,
  minShuntOhm: 1250,
  genuineShuntOhm: 3000,
};
const circuit: PilotCircuit = {
  ...rig,
  coreHenry: 0,
  cableFarad: 0,
  leakOhm: Number.POSITIVE_INFINITY,
  leakAt: 0,
  diode: { kind: 'exponential', dropV: 0.7, slopeV: 0.05 },
  crushOhm: Number.POSITIVE_INFINITY,
  reversed: false,
};
const PEAK_A = 0.0165;
const farthest = (a: Float64Array, b: Float64Array): number =>
  Math.max(...a.map((x, k) => Math.abs(x - b[k]!)));

describe('the full circuit', () => {
  test.each([
    ['sound', {}, {}],
    ['leak at the charger', { leakOhm: 1500 }, { shuntOhm: 1500 }],
    ['bridged diode', { crushOhm: 10 }, { crushOhm: 10 }],
    ['reversed', { reversed: true }, { reversed: true }],
  ])('without inductance and capacitance is the quick one: %s', (_, part, state) => {
    const full = settledPeriod({ ...circuit, ...part }, 100);
    const quick = full.map((_x, k) =>
      loopCurrentA(Math.SQRT2 * 12 * Math.sin((2 * Math.PI * k) / 100), rig, {
        ...SOUND_LOOP,
        sourceOn: true,
        ...state,
      }),
    );
    expect(farthest(full, quick)).toBeLessThan(1e-5 * PEAK_A);
  });

  test('a leak anywhere looks like one at the charger', () => {
    const along = {
      ...circuit,
      leakOhm: 2000,
      leakAt: 0.6,
      diode: { kind: 'piecewise', dropV: 0, onOhm: 0 },
    } as const;
    const { seriesOhm, shuntOhm } = seenFromCharger(along);
    expect(shuntOhm).toBeCloseTo(2018, 9);
    const atCharger = { ...along, coreOhm: seriesOhm, leakOhm: shuntOhm, leakAt: 0 };
    expect(farthest(settledPeriod(along, 100), settledPeriod(atCharger, 100))).toBeLessThan(1e-6 * PEAK_A);
  });

  test('capacitance draws current while the diode blocks, a quarter period ahead', () => {
    const wave = settledPeriod({ ...circuit, cableFarad: 5e-9 }, 100);
    // At the phase of −90° + 90° the source passes zero downward at sample 50: steepest, so C·dv/dt is largest.
    const expectedA = -5e-9 * 2 * Math.PI * 80 * Math.SQRT2 * 12;
    expect(wave[60]! / expectedA).toBeCloseTo(Math.cos((2 * Math.PI * 10) / 100), 1);
  });
});

describe('recordings', () => {
  const plan = { circuit, sampleHz: 80 * 47.3, samples: 1000, phase: 1, noiseA: 0, pickUp: [], bounces: [] };
  test('stepped through and repeated from one period are the same', () => {
    const repeated = recordPilot(plan, new SeededRandom(1)).currentA;
    const stepped = recordPilot({ ...plan, bounces: [{ fromS: 10, toS: 11 }] }, new SeededRandom(1)).currentA;
    expect(farthest(repeated, stepped)).toBeLessThan(2e-5 * PEAK_A);
  });
  test('a bounce takes the current away', () => {
    const spanS = 0.05;
    const { timeS, currentA } = recordPilot(
      { ...plan, bounces: [{ fromS: 0.1, toS: 0.1 + spanS }] },
      new SeededRandom(1),
    );
    const during = currentA.filter((_, k) => timeS[k]! > 0.1 && timeS[k]! < 0.1 + spanS);
    expect(Math.max(...during.map(Math.abs))).toBe(0);
  });
  test('noise and pick-up are as strong as asked for', () => {
    const still = recordPilot(plan, new SeededRandom(1)).currentA;
    const pickUp = [{ frequencyHz: 300, amplitudeA: 1e-3, phase: 0 }];
    const noisy = recordPilot({ ...plan, noiseA: 1e-3, pickUp }, new SeededRandom(1)).currentA;
    const { rmsA } = featuresOf(noisy.map((x, k) => x - still[k]!));
    expect(rmsA).toBeGreaterThan(1.1e-3);
    expect(rmsA).toBeLessThan(1.35e-3);
  });
});

describe('the live loop', () => {
  test('takes a leak along the cable and the cable itself from the full circuit', () => {
    const loop = new PilotLoop(rig, new SeededRandom(1));
    loop.change({ sourceOn: true, shuntOhm: 2000 }, 0);
    const near = loop.features(100).peakNegativeA;
    loop.change({ shuntAt: 1, cableFarad: 1e-9, coreHenry: 1e-5 }, 100);
    const far = loop.features(200).peakNegativeA;
    expect(near / far).toBeCloseTo(3030 / 3000, 2);
  });
  test('a bounce lowers the mean of its window and is over afterwards', () => {
    const loop = new PilotLoop(rig, new SeededRandom(1));
    loop.change({ sourceOn: true }, 0);
    const sound = loop.features(100).meanA;
    loop.bounce(105, 40);
    expect(loop.features(150).meanA).toBeLessThan(0.9 * sound);
    expect(loop.features(200).meanA).toBeCloseTo(sound, 5);
  });
  test('a change ends a bounce', () => {
    const loop = new PilotLoop(rig, new SeededRandom(1));
    loop.change({ sourceOn: true }, 0);
    loop.bounce(0, 500);
    loop.change({ open: true }, 100);
    expect(loop.features(250).rmsA).toBeLessThan(5e-5);
  });
});
