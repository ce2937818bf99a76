/** Recorded settling curves: figures of networks in closed form, and the covariance of the textbook. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { isolationFromCurve } from '../../../src/checks/isolation-curve.js';
import type { ResistorAt } from '../../../src/checks/isolation-record.js';
import { student95 } from '../../../src/checks/least-squares.js';
import { covarianceOf } from './covariance.js';

const near = (found: number, expected: number, share: number): void =>
  expect(Math.abs(found / expected - 1)).toBeLessThan(share);

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

interface Moves {
  readonly positiveS: number;
  readonly negativeS: number;
  readonly bothS: number;
  readonly logF: number;
}
/**
 * How the figures move when one voltmeter in one position reads wrong by what rounding leaves: a step's
 * deviation, less what noise takes from it (the mean of rounded figures is off by a sine of the step, of amplitude
 * q ÷ π · e^(−2 (π σ ÷ q)²)). Found by reading that record again.
 */
function movedByOffsets(data: ReturnType<typeof closed>, stepV: number): Moves[] {
  const SMALL = 0.02;
  const figures = (record: typeof data) => {
    const found = isolationFromCurve(record, INSTRUMENT);
    const positiveS = 1 / found.positiveOhm.value;
    const negativeS = 1 / found.negativeOhm.value;
    return {
      positiveS,
      negativeS,
      bothS: positiveS + negativeS,
      logF: Math.log(found.totalFarad.value),
    };
  };
  const here = figures(data);
  return [...new Set(data.resistor)].flatMap((at) =>
    (['positiveV', 'negativeV'] as const).map((pole) => {
      const off = data[pole].map((v, k) => {
        if (data.resistor[k] !== at) return 0;
        const noiseV = 0.05 + 1e-3 * Math.abs(v);
        return (stepV / Math.PI / Math.SQRT2) * Math.exp(-2 * ((Math.PI * noiseV) / stepV) ** 2);
      });
      const there = figures({ ...data, [pole]: data[pole].map((v, k) => v + SMALL * off[k]!) });
      const by = (figure: keyof Moves) => (there[figure] - here[figure]) / SMALL;
      return {
        positiveS: by('positiveS'),
        negativeS: by('negativeS'),
        bothS: by('bothS'),
        logF: by('logF'),
      };
    }),
  );
}

describe('the figures of records that are hard to read', () => {
  /** Drawn evenly over the logarithm. */
  const between = (random: SeededRandom, low: number, high: number): number =>
    Math.exp(random.between(Math.log(low), Math.log(high)));
  it.each([
    { is: 'rows close together', share: [0.002, 0.02], within: 1e-3 },
    { is: 'a row for each time constant, or less', share: [0.3, 3], within: 2e-3 },
    // Whatever lies between two rows is over: leaks are told, capacitances are not.
    { is: 'rows that see no curve', share: [200, 1e5], within: 2e-3, resting: true },
    { is: 'the same in half volts', share: [20, 1e3], within: 0.02, resting: true, stepV: 0.5 },
  ] as const)('of twenty networks are found: $is', ({ share: [least, most], within, ...more }) => {
    for (let index = 0; index < 20; index++) {
      const random = new SeededRandom(31).fork(`network ${index}`);
      const [positiveOhm, negativeOhm] = [between(random, 10e3, 1e6), between(random, 10e3, 1e6)];
      const farad = between(random, 2e-8, 4e-6);
      const loadS = siemens(positiveOhm, true) + siemens(negativeOhm, false);
      const rowS = (between(random, least, most) * farad) / loadS;
      const positions = index % 2 === 0 ? (['pos', 'neg'] as const) : (['neg', 'none', 'pos'] as const);
      const rows = 4 + (random.uint32() % 40);
      const found = isolationFromCurve(
        closed({ positiveOhm, negativeOhm, farad, rowS, rows, positions, ...more }),
        INSTRUMENT,
      );
      near(found.positiveOhm.value, positiveOhm, within);
      near(found.negativeOhm.value, negativeOhm, within);
      if ('resting' in more) {
        expect(found.totalFarad.value).toBeNaN();
        expect(found.totalFarad.atMost).toBeGreaterThan(farad);
      } else near(found.totalFarad.value, farad, within);
    }
  });
  it('of a pack that was away when the record began', () => {
    const network = { positiveOhm: 150e3, negativeOhm: 400e3, farad: 4e-7 };
    const data = closed({ ...network, noiseV: 0.01 });
    const random = new SeededRandom(41);
    // Nothing but what the voltmeters make up; chassis then goes half way with the pack.
    for (let k = 0; k < 20; k++) {
      data.positiveV[k] = 0.05 * random.gaussian();
      data.negativeV[k] = 0.05 * random.gaussian();
    }
    const found = isolationFromCurve(data, INSTRUMENT);
    near(found.positiveOhm.value, 150e3, 2e-3);
    near(found.negativeOhm.value, 400e3, 2e-3);
    near(found.totalFarad.value, 4e-7, 2e-3);
    // What the dead voltmeters made up is no part of it.
    expect(found.fitRmsV).toBeLessThan(0.02);
    expect(found.positiveOhm.atMost).toBeLessThan(152e3);
    // Voltmeters that show nothing at all, in whole millivolts.
    const shown = (volts: number[]) => volts.map((v, k) => (k < 20 ? 0 : 1e-3 * Math.round(1e3 * v)));
    const still = { ...data, positiveV: shown(data.positiveV), negativeV: shown(data.negativeV) };
    expect(isolationFromCurve(still, INSTRUMENT).positiveOhm.atMost).toBeLessThan(152e3);
  });
  it('of a switch that moved nothing bound no capacitance', () => {
    // The positive pole lies on chassis: with the resistor or without, it has no volts.
    const shorted = (at: ResistorAt) => Array.from({ length: 5 }, () => at);
    const resistor = [...shorted('none'), ...shorted('pos')];
    const found = isolationFromCurve(
      {
        timeS: resistor.map((_, k) => k),
        positiveV: resistor.map(() => 0),
        negativeV: resistor.map(() => 750),
        resistor,
      },
      INSTRUMENT,
    );
    expect(found.totalFarad.atMost).toBe(Number.POSITIVE_INFINITY);
    expect(found.lowerOhm.value).toBeLessThan(1);
  });
  it('of a pack that moves in no stretch do not divide the capacitance', () => {
    // 3 % more with every switching; within a position all stands still.
    const [cp, cn] = [1e-7, 3e-7];
    const parts = (['pos', 'neg'] as const).map((at, k) =>
      closed({
        positiveOhm: 150e3,
        negativeOhm: 400e3,
        farad: cp + cn,
        bothV: 750 * 1.03 ** k,
        positions: [at],
      }),
    );
    const all = (of: (part: (typeof parts)[number]) => number[]) => parts.flatMap(of);
    const found = isolationFromCurve(
      {
        timeS: parts.flatMap((part, k) => part.timeS.map((t) => t + k)),
        positiveV: all((part) => part.positiveV),
        negativeV: all((part) => part.negativeV),
        resistor: parts.flatMap((part) => part.resistor),
      },
      INSTRUMENT,
    );
    expect(found.dividedBetweenPoles).toBe(false);
    near(found.positiveOhm.value, 150e3, 1e-3);
    near(found.positiveFarad.value, 2e-7, 1e-3);
    expect(found.positiveFarad.atMost).toBeGreaterThanOrEqual(4e-7);
    expect(found.lowerOhm.atMost).toBeLessThan(151e3);
  });
});

describe('how far the figures may be off', () => {
  const base = { positiveOhm: 150e3, negativeOhm: 400e3, farad: 4e-7 };
  it.each([
    { is: 'white noise of 0.2 V', noiseV: 0.2 },
    { is: 'white noise of 2 V', noiseV: 2 },
    { is: 'less noise than granted', noiseV: 0.02 },
    { is: 'noise that remembers', noiseV: 0.5, memory: 0.7, within: 0.1 },
    { is: 'two positions only', noiseV: 0.2, positions: ['pos', 'neg'] },
    { is: 'more rows', noiseV: 0.2, rows: 120 },
    // Without noise a fiftieth of what is granted is taken; then only Student's factor is large.
    { is: 'no noise', rows: 4, rowS: 5e-3, positions: ['pos', 'neg'] },
    { is: 'few rows', noiseV: 0.2, rows: 4, rowS: 5e-3, positions: ['pos', 'neg'], within: 0.06 },
    { is: 'steps of half the noise', noiseV: 0.5, stepV: 1 },
    { is: 'steps beyond the noise', stepV: 2, within: 0.08 },
  ] as const)('is as the textbook has it: $is', (shape) => {
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
      return g * Math.max(0.02, Math.sqrt(mine.reduce((a, b) => a + b, 0) / (each - 2)));
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
    const { stepV = 0, within = 0.02 }: { stepV?: number; within?: number } = shape;
    const moved = stepV > 0 ? movedByOffsets(data, stepV) : [];
    /** By noise, and by what rounding may have each pole off by in each position. */
    const either = (byNoise: number, figure: keyof Moves) =>
      Math.hypot(byNoise, ...moved.map((m) => student95(freedom) * m[figure]));
    const share = (foundOff: number, expected: number) =>
      expect(Math.abs(foundOff / expected - 1)).toBeLessThan(within);
    share(offOf(found.positiveOhm), either(reach * Math.sqrt(c[0]![0]!), 'positiveS'));
    share(offOf(found.negativeOhm), either(reach * Math.sqrt(c[1]![1]!), 'negativeS'));
    share(
      offOf(found.parallelOhm),
      either(reach * Math.sqrt(c[0]![0]! + c[1]![1]! + 2 * c[0]![1]!), 'bothS'),
    );
    share(
      Math.log(found.totalFarad.atMost / found.totalFarad.value),
      either(reach * Math.sqrt(c[2]![2]!), 'logF'),
    );
    const rms = Math.sqrt(left.reduce((sum, r) => sum + r * r, 0) / rows);
    // Of fewer rows the pole-to-pole volts are not known so well.
    if (each > 10) share(found.fitRmsV, rms);
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
});
