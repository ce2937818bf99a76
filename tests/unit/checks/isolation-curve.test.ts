/** Records as loggers make them: figures at rest, either sign, no curve, a moving pack, nonsense; and the verdicts. */
import { describe, expect, it } from 'vitest';
import { isolationFromCurve, positionsOf } from '../../../src/checks/isolation-curve.js';
import type { PoleRecording, ResistorAt } from '../../../src/checks/isolation-record.js';
import { judgeIsolation } from '../../../src/checks/isolation-verdict.js';
import { depot } from './build.js';

const NO_METER = { knownOhm: 75e3, meterOhm: 1e15 };

interface Shape {
  readonly positiveOhm: number;
  readonly negativeOhm: number;
  readonly positiveF?: number;
  readonly negativeF?: number;
  readonly packV?: (timeS: number) => number;
  readonly rows?: number;
  readonly rowS?: number;
  readonly positions?: readonly ResistorAt[];
}

/** Charge on both capacitors moved by the currents through the leaks, by Heun's rule in small steps. */
function record(shape: Shape): PoleRecording {
  const { positiveOhm, negativeOhm, positiveF = 0.1e-6, negativeF = 0.1e-6 } = shape;
  const { packV = () => 750, rows = 100, rowS = 1e-3, positions = ['pos', 'neg'] } = shape;
  const SUB = 50;
  const h = rowS / SUB;
  let t = 0;
  let x = packV(0) / 2;
  const timeS: number[] = [];
  const positiveV: number[] = [];
  const negativeV: number[] = [];
  const resistor: ResistorAt[] = [];
  for (const at of positions) {
    const leakP = 1 / positiveOhm + (at === 'pos' ? 1 / 75e3 : 0);
    const leakN = 1 / negativeOhm + (at === 'neg' ? 1 / 75e3 : 0);
    /** Amperes into chassis, by which it rises against both poles alike. */
    const intoChassisA = (volts: number, both: number): number => leakP * volts - leakN * (both - volts);
    for (let k = 0; k < rows; k++) {
      for (let s = 0; s < SUB; s++) {
        const before = packV(t);
        const after = packV(t + h);
        x += ((after - before) * negativeF) / (positiveF + negativeF);
        const first = intoChassisA(x, after) / (positiveF + negativeF);
        const second = intoChassisA(x - h * first, after) / (positiveF + negativeF);
        x -= (h * (first + second)) / 2;
        t += h;
      }
      timeS.push(t);
      positiveV.push(x);
      negativeV.push(packV(t) - x);
      resistor.push(at);
    }
  }
  return { timeS, positiveV, negativeV, resistor };
}

/** Rows of figures at rest, as written down by hand. */
function atRest(rows: readonly (readonly [ResistorAt, number, number])[]): PoleRecording {
  const all = rows.flatMap((row) => [row, row, row, row]);
  return {
    timeS: all.map((_, k) => 10 * k),
    positiveV: all.map(([, p]) => p),
    negativeV: all.map(([, , n]) => n),
    resistor: all.map(([at]) => at),
  };
}

const near = (found: number, expected: number, share = 1e-3): void =>
  expect(Math.abs(found / expected - 1)).toBeLessThan(share);

describe('a record of figures at rest (W1 to W4)', () => {
  it.each([
    [
      'W1',
      atRest([
        ['none', 300, 450],
        ['neg', 576.923, 173.077],
      ]),
      200e3,
      300e3,
    ],
    [
      'W2',
      atRest([
        ['none', 375, 375],
        ['neg', 482.143, 267.857],
      ]),
      60e3,
      60e3,
    ],
    [
      'W3',
      atRest([
        ['none', 714.286, 35.714],
        ['pos', 436.893, 313.107],
      ]),
      1e6,
      50e3,
    ],
    [
      'W4',
      atRest([
        ['none', 11.084, 738.916],
        ['neg', 377.792, 372.208],
      ]),
      75e3,
      5e6,
    ],
  ] as const)('%s', (id, rows, positiveOhm, negativeOhm) => {
    const found = isolationFromCurve(rows, NO_METER);
    near(found.positiveOhm.value, positiveOhm);
    near(found.negativeOhm.value, negativeOhm, id === 'W4' ? 5e-3 : 1e-3);
    expect(found.lowerOhm.atLeast).toBeLessThanOrEqual(Math.min(positiveOhm, negativeOhm));
  });
  it('states a bound where there is no curve to take a capacitance from', () => {
    const found = isolationFromCurve(
      atRest([
        ['none', 300, 450],
        ['neg', 576.923, 173.077],
      ]),
      NO_METER,
    );
    expect(found.totalFarad.value).toBeNaN();
    expect(found.totalFarad.atLeast).toBe(0);
    expect(found.totalFarad.atMost).toBeGreaterThan(1e-6);
    expect(found.totalFarad.atMost).toBeLessThan(1e-3);
  });
  it('bounds a capacitance whose curve was over between two rows', () => {
    // Rows 10 s apart, from 300 V to rest at 576.923 V: what may be left of 276.9 V after 10 s is three
    // deviations and the last digit. A hundredth of the noise granted is the least taken: 0.02 · 0.2244 V.
    const rows = atRest([
      ['none', 300, 450],
      ['neg', 576.923, 173.077],
    ]);
    const found = isolationFromCurve(rows, NO_METER);
    const deviationV = (0.02 * Math.hypot(173.077 * (0.05 + 0.576923), 576.923 * (0.05 + 0.173077))) / 750;
    const swing = 276.923 / (3 * deviationV + 0.001);
    const mostF = ((1 / 200e3 + 1 / 300e3 + 1 / 75e3) * 10) / Math.log(swing);
    near(found.totalFarad.atMost, mostF, 0.01);
    expect(found.timeConstantS).toBeNaN();
    expect(found.storedJ.atMost).toBeCloseTo(0.5 * found.totalFarad.atMost * 750 ** 2, 9);
  });
  it('has no bound where nothing moved at the switching', () => {
    const found = isolationFromCurve(
      atRest([
        ['none', 300, 450],
        ['none', 300, 450],
      ]),
      NO_METER,
    );
    expect(found.totalFarad.atMost).toBe(Number.POSITIVE_INFINITY);
  });
  it('takes the negative pole against chassis, or chassis against it', () => {
    const other = atRest([
      ['none', 300, -450],
      ['neg', 576.923, -173.077],
    ]);
    const found = isolationFromCurve(other, NO_METER);
    expect(found.negativeSign).toBe(-1);
    expect(found.voltageV).toBeCloseTo(750, 6);
    near(found.lowerOhm.value, 200e3);
  });
});

describe('a record of curves', () => {
  it('needs no rest: a quarter of a time constant in each position', () => {
    const shape = { positiveOhm: 150e3, negativeOhm: 400e3, positiveF: 1e-6, negativeF: 1e-6 };
    const found = isolationFromCurve(record({ ...shape, rowS: 1e-4 }), NO_METER);
    near(found.positiveOhm.value, 150e3);
    near(found.negativeOhm.value, 400e3);
    near(found.totalFarad.value, 2e-6);
    near(found.storedJ.value, 0.5 * 2e-6 * 750 ** 2);
  });
  it('cannot divide the capacitance between the poles while the pack stands still, and says so', () => {
    const shape = { positiveOhm: 150e3, negativeOhm: 400e3, positiveF: 0.3e-6, negativeF: 0.1e-6 };
    const found = isolationFromCurve(record(shape), NO_METER);
    expect(found.dividedBetweenPoles).toBe(false);
    near(found.positiveFarad.value, 0.2e-6);
    expect(found.positiveFarad.atMost).toBeGreaterThanOrEqual(0.3e-6);
    expect(found.negativeFarad.atLeast).toBeLessThanOrEqual(0.1e-6);
  });
  it('divides it when the pack’s volts step', () => {
    const shape = { positiveOhm: 150e3, negativeOhm: 400e3, positiveF: 0.3e-6, negativeF: 0.1e-6 };
    const packV = (t: number): number => (t < 0.0505 ? 600 : 750);
    const found = isolationFromCurve(record({ ...shape, packV }), NO_METER);
    expect(found.dividedBetweenPoles).toBe(true);
    near(found.positiveFarad.value, 0.3e-6, 0.02);
    near(found.negativeFarad.value, 0.1e-6, 0.05);
    near(found.positiveOhm.value, 150e3, 0.01);
    near(found.negativeOhm.value, 400e3, 0.01);
  });
  it('allows a pack that is slowly charged', () => {
    const packV = (t: number): number => 740 + 20 * t;
    const found = isolationFromCurve(record({ positiveOhm: 90e3, negativeOhm: 90e3, packV }), NO_METER);
    near(found.lowerOhm.value, 90e3, 2e-3);
  });
  it('thins a long record without losing the curve', () => {
    const shape = { positiveOhm: 150e3, negativeOhm: 400e3, rows: 40_000, rowS: 1e-5 };
    const long = record({ ...shape, positions: ['none', 'pos', 'neg'] });
    const found = isolationFromCurve(long, NO_METER);
    expect(found.drawn.timeS.length).toBeLessThan(10_000);
    near(found.totalFarad.value, 0.2e-6);
    near(found.positiveOhm.value, 150e3);
  });
  it('gives a proven lower bound where the leak is too small to see', () => {
    const found = isolationFromCurve(record({ positiveOhm: 1e12, negativeOhm: 1e12 }), NO_METER);
    expect(found.lowerOhm.atLeast).toBeGreaterThan(20e6);
    expect(found.lowerOhm.atLeast).toBeLessThan(1e12);
    expect(found.lowerOhm.atMost).toBe(Number.POSITIVE_INFINITY);
  });
  it('is symmetrical: poles exchanged, figures exchanged', () => {
    const one = isolationFromCurve(record({ positiveOhm: 30e3, negativeOhm: 2e6 }), NO_METER);
    const two = isolationFromCurve(
      record({ positiveOhm: 2e6, negativeOhm: 30e3, positions: ['neg', 'pos'] }),
      NO_METER,
    );
    near(two.negativeOhm.value, one.positiveOhm.value, 1e-6);
    near(two.positiveOhm.value, one.negativeOhm.value, 1e-6);
  });
});

it('counts the positions that have rows enough', () => {
  expect(positionsOf(['none', 'none', 'pos', 'neg', 'neg'])).toEqual(['none', 'neg']);
});

describe('the verdict', () => {
  const rig = depot.isolation;
  const judge = (shape: Shape) => judgeIsolation(isolationFromCurve(record(shape), NO_METER), rig);
  it.each([
    ['ok', { positiveOhm: 2e6, negativeOhm: 3e6 }],
    ['warn', { positiveOhm: 200e3, negativeOhm: 300e3 }],
    ['low', { positiveOhm: 60e3, negativeOhm: 60e3 }],
    ['low', { positiveOhm: 1e6, negativeOhm: 50e3 }],
    ['stored-charge', { positiveOhm: 2e6, negativeOhm: 3e6, positiveF: 1e-6, negativeF: 1e-6 }],
  ] as const)('%s', (verdict, shape) => {
    expect(judge(shape).verdict).toBe(verdict);
  });
  it('passes nothing at the limit, and nothing above it by less than its uncertainty', () => {
    const required = rig.minOhmPerVolt * rig.workingVoltageV;
    expect(judge({ positiveOhm: required, negativeOhm: 5e6 }).verdict).not.toMatch(/ok|warn/);
    expect(judge({ positiveOhm: required * 0.99, negativeOhm: 5e6 }).verdict).toBe('low');
    // A voltmeter that shows whole volts cannot tell so small a margin.
    const fine = record({ positiveOhm: required * 1.0005, negativeOhm: 5e6 });
    const whole = (volts: ArrayLike<number>): number[] => Array.from(volts, Math.round);
    const coarse = { ...fine, positiveV: whole(fine.positiveV), negativeV: whole(fine.negativeV) };
    expect(judgeIsolation(isolationFromCurve(coarse, NO_METER), rig).verdict).not.toMatch(/ok|warn/);
    expect(judge({ positiveOhm: required * 1.05, negativeOhm: 5e6 }).verdict).toBe('warn');
  });
  it('is unclear when no such network reads like this', () => {
    const shape = record({ positiveOhm: 200e3, negativeOhm: 300e3 });
    const wild = Array.from(shape.positiveV, (v, k) => (k % 7 < 3 ? v + 200 : v - 100));
    const both = Array.from(wild, (v) => 750 - v);
    const found = isolationFromCurve({ ...shape, positiveV: wild, negativeV: both }, NO_METER);
    expect(judgeIsolation(found, rig).verdict).toBe('unclear');
  });
  it('holds the parallel figure against the limit where the rig says so', () => {
    const parallel = { ...rig, figure: 'parallel' } as const;
    const curve = isolationFromCurve(record({ positiveOhm: 120e3, negativeOhm: 120e3 }), NO_METER);
    expect(judgeIsolation(curve, rig).verdict).toBe('warn');
    expect(judgeIsolation(curve, parallel).verdict).toBe('low');
  });
});
