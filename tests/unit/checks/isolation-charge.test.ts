/** Networks told from charge alone: closed-form curves by rows close together, figures at rest, moving packs. */
import { describe, expect, it } from 'vitest';
import { LEAST_F, networkByCharge } from '../../../src/checks/isolation-charge.js';
import type { Prepared, ResistorAt } from '../../../src/checks/isolation-record.js';

const KNOWN_OHM = 75e3;

interface Network {
  readonly positiveOhm: number;
  readonly negativeOhm: number;
  readonly positiveF: number;
  readonly negativeF: number;
  readonly positions?: readonly ResistorAt[];
  /** Of each position, in time constants of the first. */
  readonly taus?: number;
  readonly startV?: number;
  /** What the pack's 600 V become a third into each position. */
  readonly laterV?: number;
}

/** Rows within a hundredth of a time constant, unevenly; each position begins where chassis happens to be. */
function closed(network: Network): readonly [Prepared, Float64Array] {
  const { positiveOhm, negativeOhm, positiveF, negativeF, laterV = 600 } = network;
  const { positions = ['pos', 'neg'], taus = 0.5, startV = 100 } = network;
  const ROWS = 200;
  const farad = positiveF + negativeF;
  const stepS = (taus / ROWS) * (farad / (1 / positiveOhm + 1 / negativeOhm + 1 / KNOWN_OHM));
  const timeS: number[] = [];
  const readV: number[] = [];
  const bothV: number[] = [];
  let t = 0;
  positions.forEach((at, stretch) => {
    const p = 1 / positiveOhm + (at === 'pos' ? 1 / KNOWN_OHM : 0);
    const n = 1 / negativeOhm + (at === 'neg' ? 1 / KNOWN_OHM : 0);
    let x = startV + 150 * stretch;
    for (let k = 0; k < ROWS; k++) {
      const hasMoved = k >= ROWS / 3;
      if (hasMoved && k - 1 < ROWS / 3) x += ((laterV - 600) * negativeF) / farad;
      const packV = hasMoved ? laterV : 600;
      // Volts move at once, time does not: a row right before and right after the pack's step.
      const h = hasMoved && k - 1 < ROWS / 3 ? 1e-9 * stepS : stepS * (1 + 0.8 * Math.sin(k));
      const restV = (packV * n) / (p + n);
      x = restV + (x - restV) * Math.exp((-(p + n) * h) / farad);
      t += h;
      timeS.push(t);
      readV.push(x);
      bothV.push(packV);
    }
  });
  const x = Float64Array.from(readV);
  const data: Prepared = {
    timeS: Float64Array.from(timeS),
    positiveV: x,
    negativeV: x.map((v, k) => bothV[k]! - v),
    bothV: Float64Array.from(bothV),
    rows: x.map(() => 1),
    stretches: positions.map((at, k) => ({ at, from: k * ROWS, to: (k + 1) * ROWS })),
    usualV: laterV,
    moves: laterV !== 600,
    resolutionV: 0,
    negativeSign: 1,
  };
  return [data, x];
}
const near = (found: number, expected: number, share = 1e-3): void =>
  expect(Math.abs(found / expected - 1)).toBeLessThan(share);

describe('charge alone', () => {
  it.each([
    { positiveOhm: 150e3, negativeOhm: 400e3, positiveF: 3e-7, negativeF: 1e-7 },
    { positiveOhm: 20e3, negativeOhm: 5e6, positiveF: 1e-6, negativeF: 1e-6, positions: ['neg', 'pos'] },
    { positiveOhm: 5e6, negativeOhm: 30e3, positiveF: 1e-8, negativeF: 4e-8, positions: ['none', 'pos'] },
    { positiveOhm: 75e3, negativeOhm: 75e3, positiveF: 1e-7, negativeF: 1e-7, positions: ['none', 'neg'] },
    {
      positiveOhm: 1e6,
      negativeOhm: 2e6,
      positiveF: 1e-7,
      negativeF: 1e-7,
      positions: ['pos', 'none', 'neg', 'pos'],
      taus: 3,
    },
    { positiveOhm: 150e3, negativeOhm: 400e3, positiveF: 3e-7, negativeF: 1e-7, startV: 590, taus: 0.1 },
    // A pack that another joins: how the capacitance divides shows too.
    { positiveOhm: 150e3, negativeOhm: 400e3, positiveF: 3e-7, negativeF: 1e-7, laterV: 750 },
    { positiveOhm: 900e3, negativeOhm: 30e3, positiveF: 1e-7, negativeF: 9e-7, laterV: 500 },
  ] as const)('tells the network: %j', (network) => {
    const { positiveOhm, negativeOhm, positiveF, negativeF } = network;
    const found = networkByCharge(...closed(network), KNOWN_OHM);
    near(found.positive, KNOWN_OHM / positiveOhm);
    near(found.negative, KNOWN_OHM / negativeOhm);
    near(found.farad, positiveF + negativeF);
    const moves = 'laterV' in network;
    near(found.share, moves ? negativeF / (positiveF + negativeF) : 0.5);
  });
  it.each([
    // W1 to W3: the poles' volts with the resistor away, and on one of them.
    { none: 300, at: 'neg', switched: 576.923, positiveOhm: 200e3, negativeOhm: 300e3 },
    { none: 375, at: 'neg', switched: 482.143, positiveOhm: 60e3, negativeOhm: 60e3 },
    { none: 714.286, at: 'pos', switched: 436.893, positiveOhm: 1e6, negativeOhm: 50e3 },
  ] as const)('of figures at rest, leaks of $positiveOhm and $negativeOhm Ω', (figures) => {
    const { none, at, switched, positiveOhm, negativeOhm } = figures;
    const x = Float64Array.of(none, none, none, none, switched, switched, switched, switched);
    const [template] = closed({ positiveOhm, negativeOhm, positiveF: 1e-7, negativeF: 1e-7 });
    const data: Prepared = {
      ...template,
      timeS: x.map((_, k) => 10 * k),
      bothV: x.map(() => 750),
      stretches: [
        { at: 'none', from: 0, to: 4 },
        { at, from: 4, to: 8 },
      ],
    };
    const found = networkByCharge(data, x, KNOWN_OHM);
    near(found.positive, KNOWN_OHM / positiveOhm);
    near(found.negative, KNOWN_OHM / negativeOhm);
    // Nothing moved: no capacitance is told, none is made up.
    expect(found.farad).toBe(LEAST_F);
  });
  it('of poles that lose nothing is next to no leak, and never less than none', () => {
    const network = { positiveOhm: 1e15, negativeOhm: 1e15, positiveF: 1e-7, negativeF: 1e-7 };
    const [data, readV] = closed(network);
    const drawn = readV.map((v, k) => v + 0.5 * Math.sin(k * k));
    const found = networkByCharge(data, drawn, KNOWN_OHM);
    for (const leak of [found.positive, found.negative]) {
      expect(leak).toBeGreaterThan(0);
      expect(leak).toBeLessThan(0.02);
    }
    near(found.farad, 2e-7, 0.02);
  });
  it('divides no capacitance further than wholly', () => {
    // Chassis goes with the pack’s negative pole by 1.2 of its step: a voltmeter out of tune.
    const network = {
      positiveOhm: 150e3,
      negativeOhm: 400e3,
      positiveF: -0.2e-7,
      negativeF: 1.2e-7,
      laterV: 750,
    };
    expect(networkByCharge(...closed(network), KNOWN_OHM).share).toBe(1);
  });
});
