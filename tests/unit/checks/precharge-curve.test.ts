/** Pre-charges as they are recorded: from before or after the closing, cut short, noisy, and gone wrong. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { type PrechargeExpected, prechargeFromCurve } from '../../../src/checks/precharge-curve.js';

const EXPECTED: PrechargeExpected = {
  leastSupplyV: 750,
  mostSupplyV: 750,
  resistorOhm: 100,
  capacitanceF: 5e-3,
  matchV: 20,
  maxS: 4,
};

interface Shape {
  readonly tauS?: number;
  readonly endV?: number;
  readonly startV?: number;
  readonly beginS?: number;
  readonly rowS?: number;
  readonly forS?: number;
  readonly noiseV?: number;
}

/** Small steps of charge through a resistor; the closed form is what is under test. */
function record(shape: Shape = {}): { timeS: number[]; voltageV: number[] } {
  const { tauS = 0.5, endV = 750, startV = 0, beginS = 0.2, rowS = 0.01, forS = 3, noiseV = 0 } = shape;
  const random = new SeededRandom(5);
  const timeS: number[] = [];
  const voltageV: number[] = [];
  let v = startV;
  const SUB = 400;
  for (let k = 0; k * rowS <= forS; k++) {
    for (let s = 0; s < SUB; s++) {
      const t = (k - 1 + (s + 1) / SUB) * rowS;
      // Implicit midpoint: stable however short the time constant.
      const h = t > beginS ? rowS / SUB / tauS : 0;
      v = (v * (1 - h / 2) + h * endV) / (1 + h / 2);
    }
    timeS.push(k * rowS);
    voltageV.push(v + noiseV * random.gaussian());
  }
  return { timeS, voltageV };
}

const judged = (shape: Shape, more: Partial<PrechargeExpected> = {}) => {
  const { timeS, voltageV } = record(shape);
  return prechargeFromCurve(timeS, voltageV, { ...EXPECTED, ...more });
};
const near = (found: number, expected: number, share: number): void =>
  expect(Math.abs(found / expected - 1)).toBeLessThan(share);

describe('a sound pre-charge', () => {
  it.each([
    ['from before the closing', {}],
    ['from within the rise', { beginS: -0.15 }],
    ['with noise', { noiseV: 1 }],
    ['cut short', { forS: 1, noiseV: 0.2 }],
    ['from a capacitor that is not empty', { startV: 200 }],
  ])('%s', (_, shape) => {
    const found = judged(shape);
    expect(found.verdict).toBe('ok');
    near(found.tauS.value, 0.5, 0.01);
    near(found.finalV.value, 750, 0.01);
    expect(found.tauS.atLeast).toBeLessThan(0.5 * 1.001);
    expect(found.tauS.atMost).toBeGreaterThan(0.5 * 0.999);
  });
  it('finds when it began and when it had matched (W7)', () => {
    const found = judged({ beginS: 0.2 });
    near(found.beginS, 0.2, 0.01);
    near(found.matchedAfterS, 1.812, 0.005);
  });
});

describe('what goes wrong', () => {
  it.each([
    ['shorted', 'a bridged resistor', { tauS: 2.5e-4, rowS: 1e-3 }],
    ['shorted', 'a tenth of the resistance', { tauS: 0.05 }],
    ['open', 'nothing arrives', { endV: 0, noiseV: 0.3 }],
    ['open', 'a trickle', { endV: 20 }],
    ['slow', 'twice the resistance', { tauS: 1, forS: 6 }],
    ['slow', 'a load draws it down', { endV: 650, tauS: 0.43 }],
    ['unclear', 'full from the beginning', { startV: 748 }],
    ['unclear', 'too few rows in the rise', { rowS: 0.5, forS: 10 }],
    ['unclear', 'more than the supply', { endV: 850 }],
  ] as const)('%s: %s', (verdict, _, shape) => {
    expect(judged(shape).verdict).toBe(verdict);
  });
  it('slow: sound parts, but not within the time given', () => {
    expect(judged({}, { maxS: 1.5 }).verdict).toBe('slow');
  });
  it('does not time what did not rise', () => {
    const { tauS, finalV } = judged({ endV: 0, noiseV: 0.3 });
    expect(tauS.value).toBeNaN();
    expect(Math.abs(finalV.value)).toBeLessThan(1);
  });
});
