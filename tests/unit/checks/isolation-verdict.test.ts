/** What measured figures mean at each limit: 81 kΩ and 405 kΩ at 810 V, 0.2 J. */
import { describe, expect, it } from 'vitest';
import { asEstimate, type Estimate } from '../../../src/checks/estimate.js';
import type { IsolationCurve } from '../../../src/checks/isolation-curve.js';
import { judgeIsolation } from '../../../src/checks/isolation-verdict.js';
import { depot } from './build.js';

const rig = depot.isolation;
const exactly = (value: number): Estimate => asEstimate(value, value, value);
const SOUND = {
  lowerOhm: exactly(1e6),
  parallelOhm: exactly(1e6),
  totalFarad: exactly(1e-7),
  voltageV: 750,
  fitRmsV: 0.1,
};
const judge = (change: Partial<typeof SOUND>, as: Partial<typeof rig> = {}) =>
  judgeIsolation({ ...SOUND, ...change } as IsolationCurve, { ...rig, ...as });
/** Farads that hold this energy at the working voltage of 810 V. */
const holding = (joules: number): number => (2 * joules) / (810 * 810);

describe('the verdict', () => {
  it.each([
    { is: 'sound', change: {}, verdict: 'ok', because: /above the warning limit by/ },
    {
      is: 'proven exactly at the limit',
      change: { lowerOhm: asEstimate(90e3, 81e3, 100e3) },
      verdict: 'warn',
      because: /not above the warning/,
    },
    {
      is: 'not proven above the limit',
      change: { lowerOhm: asEstimate(90e3, 80.9e3, 100e3) },
      verdict: 'unclear',
      because: /limit by its uncertainty/,
    },
    {
      is: 'at the limit with its uncertainty',
      change: { lowerOhm: asEstimate(81e3, 80e3, 82e3) },
      verdict: 'low',
      because: /is not above the limit$/,
    },
    {
      is: 'just above the limit with its uncertainty',
      change: { lowerOhm: asEstimate(81.1e3, 80e3, 82e3) },
      verdict: 'unclear',
      because: /limit by its uncertainty/,
    },
    {
      is: 'unreadable',
      change: { lowerOhm: exactly(Number.NaN) },
      verdict: 'unclear',
      because: /limit by its uncertainty/,
    },
    {
      is: 'proven exactly at the warning limit',
      change: { lowerOhm: exactly(405e3) },
      verdict: 'ok',
      because: /above the warning limit by/,
    },
    {
      is: 'proven just below the warning limit',
      change: { lowerOhm: asEstimate(500e3, 404.9e3, 600e3) },
      verdict: 'warn',
      because: /not above the warning/,
    },
    {
      is: 'holding more than permitted',
      change: { totalFarad: exactly(holding(0.201)) },
      verdict: 'stored-charge',
      because: /hold more energy/,
    },
    {
      is: 'holding no more than permitted',
      change: { totalFarad: exactly(holding(0.1999)) },
      verdict: 'ok',
      because: /above the warning limit/,
    },
    {
      is: 'perhaps holding more than permitted',
      change: { totalFarad: asEstimate(holding(0.15), holding(0.1), holding(0.201)) },
      verdict: 'unclear',
      because: /stored energy/,
    },
    {
      is: 'without a curve to take a capacitance from',
      change: { totalFarad: asEstimate(Number.NaN, 0, 1e-3) },
      verdict: 'ok',
      because: /above the warning limit/,
    },
    {
      is: 'a curve 3 % off its record',
      change: { fitRmsV: 22.5 },
      verdict: 'ok',
      because: /above the warning limit/,
    },
    { is: 'a curve further off', change: { fitRmsV: 22.6 }, verdict: 'unclear', because: /no network/ },
    {
      is: 'no measure of the fit',
      change: { fitRmsV: Number.NaN },
      verdict: 'unclear',
      because: /no network/,
    },
    {
      is: 'a record the wrong way round',
      change: { voltageV: -750 },
      verdict: 'ok',
      because: /above the warning limit/,
    },
  ])('$is: $verdict', ({ change, verdict, because }) => {
    const found = judge(change);
    expect(found.verdict).toBe(verdict);
    expect(found.because).toMatch(because);
  });
  it('speaks of low isolation before stored charge, and of that before a warning', () => {
    const much = exactly(holding(1));
    expect(judge({ lowerOhm: exactly(50e3), totalFarad: much }).verdict).toBe('low');
    expect(judge({ lowerOhm: exactly(100e3), totalFarad: much }).verdict).toBe('stored-charge');
  });
});

describe('what it is held against', () => {
  it('is ohms per volt times the working voltage, or the recorded one where that was higher', () => {
    expect(judge({})).toMatchObject({ requiredOhm: 81_000, warnOhm: 405_000 });
    expect(judge({ voltageV: 900 })).toMatchObject({ requiredOhm: 90_000, warnOhm: 450_000 });
    expect(judge({ voltageV: -900 })).toMatchObject({ requiredOhm: 90_000, warnOhm: 450_000 });
  });
  it('is energy and charge at that voltage', () => {
    const { storedAtWorkingJ, storedAtWorkingC } = judge({ totalFarad: asEstimate(2e-7, 1e-7, 4e-7) });
    expect(storedAtWorkingJ.value).toBeCloseTo(0.5 * 2e-7 * 810 * 810, 12);
    expect(storedAtWorkingJ.atMost).toBeCloseTo(0.5 * 4e-7 * 810 * 810, 12);
    expect(storedAtWorkingC.value).toBeCloseTo(2e-7 * 810, 12);
    expect(storedAtWorkingC.atLeast).toBeCloseTo(1e-7 * 810, 12);
  });
  it('is the lower pole or the parallel figure, as the rig says', () => {
    const figures = { lowerOhm: exactly(50e3), parallelOhm: exactly(2e6) };
    expect(judge(figures)).toMatchObject({ verdict: 'low', figureOhm: { value: 50e3 } });
    expect(judge(figures, { figure: 'parallel' })).toMatchObject({
      verdict: 'ok',
      figureOhm: { value: 2e6 },
    });
  });
});
