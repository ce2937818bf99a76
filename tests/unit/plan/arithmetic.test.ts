/**
 * The rule of thumb of a stop, against figures that are common practice (no source), all at a constant 750 V: a rapid
 * charge of 1500 A for the four minutes of a terminus, what 230 kWh in that time would take, the hand cable.
 */
import { describe, expect, it } from 'vitest';
import { arithmeticOf, currentAOf, energyKwhOf, powerKwOf, secondsOf } from '../../../src/plan/arithmetic.js';

const V = 750;
const MINUTE = 60;

describe('what is said of a charge at 750 V (common practice, no source)', () => {
  it('1500 A for 4 min give 75 kWh', () => {
    expect(energyKwhOf(V, 1500, 4 * MINUTE)).toBe(75);
  });
  it('230 kWh in 4 min are 3450 kW, which are 4600 A', () => {
    expect(powerKwOf(230, 4 * MINUTE)).toBe(3450);
    expect(currentAOf(3450, V)).toBe(4600);
  });
  it('230 kWh at 1500 A take 12 min 16 s of power', () => {
    expect(secondsOf(230, V, 1500)).toBe(12 * MINUTE + 16);
  });
  it('300 A are 225 kW', () => {
    expect(powerKwOf(energyKwhOf(V, 300, 3600), 3600)).toBe(225);
    expect(currentAOf(225, V)).toBe(300);
  });
});

describe('whether it adds up', () => {
  const most = { limit: 'connection rating', currentA: 1500 };
  it('does not, where more current is wanted than there is, and says by how much', () => {
    const a = arithmeticOf({ energyKwh: 230, powerS: 240, atV: V, most });
    expect(a).toMatchObject({ addsUp: false, requiredCurrentA: 4600, mostEnergyKwh: 75, leastPowerS: 736 });
  });
  it('does, up to the very limit', () => {
    expect(arithmeticOf({ energyKwh: 75, powerS: 240, atV: V, most }).addsUp).toBe(true);
    expect(arithmeticOf({ energyKwh: 75.1, powerS: 240, atV: V, most }).addsUp).toBe(false);
  });
  it('never does in no time', () => {
    for (const powerS of [0, -5])
      expect(arithmeticOf({ energyKwh: 1, powerS, atV: V, most })).toMatchObject({
        ...{ addsUp: false, requiredPowerKw: Number.POSITIVE_INFINITY, mostEnergyKwh: 0 },
      });
  });
});
