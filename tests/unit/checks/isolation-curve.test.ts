/** Records as loggers make them: figures at rest, either sign, no curve, a moving pack, nonsense; and the verdicts. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { isolationFromCurve, positionsOf } from '../../../src/checks/isolation-curve.js';
import type { PoleRecording, ResistorAt } from '../../../src/checks/isolation-record.js';
import { judgeIsolation } from '../../../src/checks/isolation-verdict.js';
import { student95 } from '../../../src/checks/least-squares.js';
import { depot } from './build.js';
import { covarianceOf } from './covariance.js';

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

/** What the network of two leaks, two capacitances and 10 MΩ voltmeters does, in closed form. */
interface Network {
  readonly positiveOhm: number;
  readonly negativeOhm: number;
  readonly farad: number;
  readonly bothV?: number;
  readonly positions?: readonly ResistorAt[];
  readonly rows?: number;
  readonly rowS?: number;
  /** Of each voltmeter, and how much of it the next row remembers. */
  readonly noiseV?: number;
  readonly memory?: number;
  readonly stepV?: number;
}
const INSTRUMENT = { knownOhm: 75e3, meterOhm: 10e6 };
const siemens = (ohm: number, hasKnown: boolean): number => 1 / ohm + 1 / 10e6 + (hasKnown ? 1 / 75e3 : 0);

function closed(network: Network) {
  const { positiveOhm, negativeOhm, farad, bothV = 750, noiseV = 0, memory = 0, stepV = 0 } = network;
  const { positions = ['none', 'pos', 'neg'], rows = 60, rowS = 2e-3 } = network;
  const random = new SeededRandom(21);
  const timeS: number[] = [];
  const positiveV: number[] = [];
  const negativeV: number[] = [];
  const resistor: ResistorAt[] = [];
  let x = bothV / 2;
  const last = [0, 0];
  const off = (pole: number): number => {
    last[pole] = memory * last[pole]! + Math.sqrt(1 - memory ** 2) * noiseV * random.gaussian();
    return last[pole]!;
  };
  const shown = (volts: number): number => (stepV > 0 ? stepV * Math.round(volts / stepV) : volts);
  positions.forEach((at, stretch) => {
    const p = siemens(positiveOhm, at === 'pos');
    const n = siemens(negativeOhm, at === 'neg');
    const restV = (bothV * n) / (p + n);
    const fromV = x;
    for (let k = 0; k < rows; k++) {
      x = restV + (fromV - restV) * Math.exp((-(p + n) * (k + 1) * rowS) / farad);
      timeS.push((stretch * rows + k) * rowS);
      positiveV.push(shown(x + off(0)));
      negativeV.push(shown(bothV - x + off(1)));
      resistor.push(at);
    }
  });
  return { timeS, positiveV, negativeV, resistor };
}

describe('the figures of a network in closed form', () => {
  it.each([
    { positiveOhm: 150e3, negativeOhm: 400e3, farad: 4e-7 },
    { positiveOhm: 2e6, negativeOhm: 900e3, farad: 2e-7, rows: 100 },
    { positiveOhm: 30e3, negativeOhm: 5e6, farad: 1e-6, positions: ['pos', 'neg'] },
    { positiveOhm: 150e3, negativeOhm: 400e3, farad: 4e-7, positions: ['none', 'neg'] },
    { positiveOhm: 150e3, negativeOhm: 400e3, farad: 4e-7, positions: ['pos', 'none', 'pos'] },
    // A hundredth of a time constant between rows, two of them in all.
    { positiveOhm: 150e3, negativeOhm: 400e3, farad: 1.2e-5, rows: 200 },
    { positiveOhm: 150e3, negativeOhm: 400e3, farad: 4e-7, bothV: -750 },
  ] as const)('are found to four digits: %j', (network) => {
    const { positiveOhm, negativeOhm, farad } = network;
    const bothV: number = 'bothV' in network ? network.bothV : 750;
    const data = closed(network);
    const found = isolationFromCurve(data, INSTRUMENT);
    near(found.positiveOhm.value, positiveOhm, 1e-4);
    near(found.negativeOhm.value, negativeOhm, 1e-4);
    near(found.parallelOhm.value, 1 / (1 / positiveOhm + 1 / negativeOhm), 1e-4);
    near(found.lowerOhm.value, Math.min(positiveOhm, negativeOhm), 1e-4);
    near(found.ohmPerVolt.value, Math.min(positiveOhm, negativeOhm) / 750, 1e-4);
    near(found.totalFarad.value, farad, 1e-4);
    near(found.storedJ.value, 0.5 * farad * 750 ** 2, 1e-4);
    expect(found.voltageV).toBeCloseTo(bothV, 6);
    // With the resistor: both leaks, both voltmeters and 75 kΩ.
    const loadS = 1 / positiveOhm + 1 / negativeOhm + 2 / 10e6 + 1 / 75e3;
    near(found.timeConstantS, farad / loadS, 1e-4);
    expect(found.fitRmsV).toBeLessThan(1e-3);
    expect(found.dividedBetweenPoles).toBe(false);
    // Undivided, each pole has half the sum, and may have none or all.
    for (const pole of [found.positiveFarad, found.negativeFarad]) {
      near(pole.value, farad / 2, 1e-4);
      expect(pole.atLeast).toBe(0);
      expect(pole.atMost).toBeCloseTo(found.totalFarad.atMost, 12);
    }
    data.positiveV.forEach((v, k) => {
      expect(found.drawn.timeS[k]).toBe(data.timeS[k]);
      expect(Math.abs(found.drawn.positiveV[k]! - v)).toBeLessThan(1e-2);
      expect(Math.abs(found.drawn.negativeV[k]! - data.negativeV[k]!)).toBeLessThan(1e-2);
    });
  });
  it('are divided between the poles by a step of the pack', () => {
    // 600 V, and 750 V from the eleventh row of each position: the positive pole takes the negative one's share.
    const [cp, cn] = [0.3e-6, 0.1e-6];
    const data = closed({
      positiveOhm: 150e3,
      negativeOhm: 400e3,
      farad: cp + cn,
      positions: ['pos', 'neg'],
    });
    let x = 300;
    let before = 600;
    data.resistor.forEach((at, k) => {
      const bothV = k % 60 >= 10 ? 750 : 600;
      x += ((bothV - before) * cn) / (cp + cn);
      const [p, n] = [siemens(150e3, at === 'pos'), siemens(400e3, at === 'neg')];
      const restV = (bothV * n) / (p + n);
      x = restV + (x - restV) * Math.exp((-(p + n) * 2e-3) / (cp + cn));
      before = bothV;
      data.positiveV[k] = x;
      data.negativeV[k] = bothV - x;
    });
    const found = isolationFromCurve(data, INSTRUMENT);
    expect(found.dividedBetweenPoles).toBe(true);
    near(found.positiveFarad.value, cp, 1e-3);
    near(found.negativeFarad.value, cn, 1e-3);
    near(found.positiveOhm.value, 150e3, 1e-3);
    near(found.negativeOhm.value, 400e3, 1e-3);
    near(found.totalFarad.value, cp + cn, 1e-3);
    // Known far better than undivided.
    expect(found.positiveFarad.uncertainty).toBeLessThan(0.1 * cp);
    expect(found.drawn.positiveV.every((v, k) => Math.abs(v - data.positiveV[k]!) < 0.05)).toBe(true);
  });
});

describe('how far the figures may be off', () => {
  const base = { positiveOhm: 150e3, negativeOhm: 400e3, farad: 4e-7 };
  it.each([
    { is: 'white noise of 0.2 V', noiseV: 0.2 },
    { is: 'white noise of 2 V', noiseV: 2 },
    { is: 'less noise than granted', noiseV: 0.02 },
    { is: 'noise that remembers', noiseV: 0.5, memory: 0.7 },
    { is: 'two positions only', noiseV: 0.2, positions: ['pos', 'neg'] },
    { is: 'more rows', noiseV: 0.2, rows: 120 },
  ] as const)('is as the textbook has it: $is', ({ is, ...shape }) => {
    const data = closed({ ...base, ...shape });
    const found = isolationFromCurve(data, INSTRUMENT);
    const rows = data.timeS.length;
    const stretches = [...new Set(data.resistor)];
    const each = rows / stretches.length;
    // One pole's share of the volts, times 750 V: its noise is that of both voltmeters, weighed by the other pole.
    const read = data.positiveV.map((p, k) => (750 * p) / (p + data.negativeV[k]!));
    const granted = data.positiveV.map((p, k) => {
      const m = data.negativeV[k]!;
      return Math.hypot(m * (0.05 + 1e-3 * p), p * (0.05 + 1e-3 * m)) / 750;
    });
    const left = read.map((v, k) => v - found.drawn.positiveV[k]!);
    const sigma = granted.map((g, k) => {
      const mine = left.flatMap((r, i) =>
        data.resistor[i] === data.resistor[k] ? [(r / granted[i]!) ** 2] : [],
      );
      return g * Math.sqrt(mine.reduce((a, b) => a + b, 0) / (each - 2));
    });
    // By both conductances, the logarithm of the capacitance, and where each stretch begins.
    const theta = [
      1 / found.positiveOhm.value,
      1 / found.negativeOhm.value,
      Math.log(found.totalFarad.value),
    ];
    const begins = stretches.map((_at, s) => found.drawn.positiveV[s * each]!);
    const model = (q: readonly number[]) =>
      data.timeS.map((t, k) => {
        const s = Math.floor(k / each);
        const at = data.resistor[k];
        const p = q[0]! + 1 / 10e6 + (at === 'pos' ? 1 / 75e3 : 0);
        const n = q[1]! + 1 / 10e6 + (at === 'neg' ? 1 / 75e3 : 0);
        const restV = (750 * n) / (p + n);
        const sinceS = t - data.timeS[s * each]!;
        return (restV + (q[3 + s]! - restV) * Math.exp((-(p + n) * sinceS) / Math.exp(q[2]!))) / sigma[k]!;
      });
    const all = [...theta, ...begins];
    const columns = all.map((value, i) => {
      const step = 1e-5 * Math.abs(value);
      const [up, down] = [step, -step].map((d) => model(all.map((q, j) => (j === i ? q + d : q))));
      return up!.map((v, k) => (v - down![k]!) / (2 * step));
    });
    const c = covarianceOf(columns);
    const weighed = left.map((r, k) => r / sigma[k]!);
    let next = 0;
    let same = 0;
    weighed.forEach((r, k) => {
      if (k % each === 0) return;
      next += r * weighed[k - 1]!;
      same += r * r;
    });
    const memory = next / same > 0.2 ? (1 + next / same) / (1 - next / same) : 1;
    const freedom = rows - stretches.length - 3;
    const squares = weighed.reduce((sum, r) => sum + r * r, 0);
    const reach = student95(freedom) * Math.sqrt(Math.max(1, squares / freedom) * memory);
    const offOf = (e: { value: number; atLeast: number }) => 1 / e.atLeast - 1 / e.value;
    const share = (foundOff: number, expected: number) =>
      expect(Math.abs(foundOff / expected - 1)).toBeLessThan(is.includes('remembers') ? 0.1 : 0.02);
    share(offOf(found.positiveOhm), reach * Math.sqrt(c[0]![0]!));
    share(offOf(found.negativeOhm), reach * Math.sqrt(c[1]![1]!));
    share(offOf(found.parallelOhm), reach * Math.sqrt(c[0]![0]! + c[1]![1]! + 2 * c[0]![1]!));
    share(Math.log(found.totalFarad.atMost / found.totalFarad.value), reach * Math.sqrt(c[2]![2]!));
    const rms = Math.sqrt(left.reduce((sum, r) => sum + r * r, 0) / rows);
    share(found.fitRmsV, rms);
    // And it holds what is true.
    expect(found.positiveOhm.atLeast).toBeLessThan(150e3);
    expect(found.positiveOhm.atMost).toBeGreaterThan(150e3);
  });
  it('grows with the steps of the voltmeters, and holds what is true', () => {
    const offs = [0, 1, 5, 20].map((stepV) => {
      const found = isolationFromCurve(closed({ ...base, stepV }), INSTRUMENT);
      expect(found.positiveOhm.atLeast).toBeLessThan(150e3);
      expect(found.positiveOhm.atMost).toBeGreaterThan(150e3);
      expect(found.negativeOhm.atLeast).toBeLessThan(400e3);
      expect(found.negativeOhm.atMost).toBeGreaterThan(400e3);
      return 1 / found.positiveOhm.atLeast - 1 / found.positiveOhm.value;
    });
    offs.slice(1).forEach((off, k) => {
      expect(off).toBeGreaterThan(offs[k]!);
    });
    // A step of 20 V leaves up to 20 V ÷ π·√2 unknown of 750 V, on a leak of 150 kΩ beside 75 kΩ.
    expect(offs[3]! * 150e3).toBeGreaterThan(0.005);
    expect(offs[3]! * 150e3).toBeLessThan(0.2);
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
});
