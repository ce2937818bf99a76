/** Droop, fall of volts and internal resistance from readings written by formula. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { SupplyResponse } from '../../../src/learn/supply-response.js';
import type { Rig } from '../../../src/rig/schema.js';
import { rigOf } from '../../sim/fixture.js';

const SET = rigOf('depot-cable');
const STORE = rigOf('terminus-shoes');

/** Load in steps: nothing for 20 s, then so much for 40 s, with a wild swing of the frequency for 3 s after the step. */
function found(
  rig: Rig,
  loadW: number,
  at: (powerW: number, drawnKwh: number) => Partial<Record<string, number>>,
) {
  const random = new SeededRandom(5);
  const supply = new SupplyResponse(rig);
  let drawnKwh = 0;
  for (let k = 0; k <= 60 * 20; k++) {
    const tS = k / 20;
    const powerW = tS < 20 ? 0 : loadW;
    drawnKwh += powerW / 20 / 3.6e6;
    const { frequencyHz = Number.NaN, voltageV = Number.NaN } = at(powerW, drawnKwh);
    const swingHz = tS >= 20 && tS < 23 ? -2 : 0;
    supply.take(tS, {
      ...{ sample: k, ready: 1, breakerClosed: 1, powerW },
      frequencyHz: frequencyHz + swingHz + 0.005 * random.gaussian(),
      voltageV: Math.round((voltageV + 0.1 * random.gaussian()) * 10) / 10,
    });
  }
  return supply.result;
}

describe('a set', () => {
  // 50 Hz at the rated 400 kW, 4 % above that with no load; 400 V falling by 2 %.
  const set = (powerW: number) => ({
    frequencyHz: 50 * (1 + 0.04 * (1 - powerW / 400_000)),
    voltageV: 400 * (1 - (0.02 * powerW) / 400_000),
  });
  it('tells its droop and the fall of its volts, and leaves the swing after a step alone', () => {
    const { droopPercent, voltageDropPercent, internalOhm } = found(SET, 200_000, set);
    expect(droopPercent).toMatchObject({ value: expect.closeTo(4, 1) });
    expect(voltageDropPercent).toMatchObject({ value: expect.closeTo(2, 1) });
    expect(internalOhm).toHaveProperty('why');
  });
  it('cannot tell from too little power, or without its frequency', () => {
    expect(found(SET, 20_000, set).droopPercent).toEqual({ why: 'too little current' });
    const blind = found(SET, 200_000, (p) => ({ ...set(p), frequencyHz: Number.NaN }));
    expect(blind.droopPercent).toEqual({ why: 'sensor missing: supply' });
  });
});

describe('a store', () => {
  // 15 mΩ, and 0.058 V less for each kWh drawn.
  const volts = (powerW: number, drawnKwh: number) => {
    const emfV = 700 - 0.058 * drawnKwh;
    return { voltageV: emfV / 2 + Math.sqrt((emfV * emfV) / 4 - powerW * 0.015) };
  };
  it('tells its internal resistance while its charge falls', () => {
    const { internalOhm, droopPercent } = found(STORE, 1e6, volts);
    const told = internalOhm as { value: number; error: number };
    expect(Math.abs(told.value - 0.015)).toBeLessThanOrEqual(3 * told.error);
    // Its charge falling by 11 kWh, taken for resistance, would be 0.2 mΩ.
    expect(told.value).toBeCloseTo(0.015, 4);
    expect(told.error).toBeLessThan(0.0005);
    expect(droopPercent).toHaveProperty('why');
  });
  it('cannot tell from too little power', () => {
    expect(found(STORE, 50_000, volts).internalOhm).toEqual({ why: 'too little current' });
  });
});
