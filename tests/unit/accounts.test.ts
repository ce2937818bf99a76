/** The session's own account of energy, peaks and limits, from readings alone. */
import { describe, expect, it } from 'vitest';
import type { Observation } from '../../src/checks/check.js';
import { Accounts, meanSoc } from '../../src/supervisor/accounts.js';

/** 700 V at the train, 705 V at the output; the supply gives a tenth more. */
function seen(nowMs: number, currentA: number, more: { soc?: number; isNew?: boolean } = {}): Observation {
  const { soc = 0.5, isNew = true } = more;
  const of = (value: object) => ({ value, ageMs: 0, isNew });
  return {
    nowMs,
    meter: of({
      currentA,
      currentMaxA: currentA + 1,
      outputV: 705,
      plugV: 7,
      plugPositiveV: -20,
      plugNegativeV: 3,
    }),
    supply: of({ powerW: 705 * currentA * 1.1 }),
    train: of({ trainV: 700 }),
    rafts: [
      of({ packV: 695, packA: currentA / 2, soc }),
      of({ packV: 695, packA: currentA / 2, soc: soc + 0.1 }),
    ],
  } as unknown as Observation;
}

describe('accounts', () => {
  it('adds up energy and what was lost where', () => {
    const accounts = new Accounts();
    for (let ms = 0; ms <= 3_600_000; ms += 500) accounts.take(seen(ms, 100));
    expect(accounts.energyToBatteryKwh).toBeCloseTo(69.5, 6);
    expect(accounts.energyFromSupplyKwh).toBeCloseTo(77.55, 6);
    expect(accounts.lossesKwh.converter).toBeCloseTo(7.05, 6);
    expect(accounts.lossesKwh.cableAndContacts).toBeCloseTo(0.5, 6);
    expect(accounts.lossesKwh.train).toBeCloseTo(0.5, 6);
    const { converter, cableAndContacts, train } = accounts.lossesKwh;
    expect(converter + cableAndContacts + train + accounts.energyToBatteryKwh).toBeCloseTo(
      accounts.energyFromSupplyKwh,
      9,
    );
  });

  it('does not bridge a gap of more than a second', () => {
    const accounts = new Accounts();
    accounts.take(seen(0, 100));
    accounts.take(seen(1001, 100));
    expect(accounts.energyToBatteryKwh).toBe(0);
    accounts.take(seen(2001, 100));
    expect(accounts.energyToBatteryKwh).toBeCloseTo(69.5 / 3600, 9);
  });

  it('takes a ramp by the trapezoid', () => {
    const accounts = new Accounts();
    accounts.take(seen(0, 0));
    accounts.take(seen(1000, 100));
    expect(accounts.energyToBatteryKwh).toBeCloseTo(69.5 / 7200, 9);
  });

  it('counts what cannot be read as nothing, and goes on', () => {
    const accounts = new Accounts();
    accounts.take(seen(0, 100));
    accounts.take(seen(500, Number.NaN));
    accounts.take(seen(1000, 100));
    expect(Number.isFinite(accounts.energyToBatteryKwh)).toBe(true);
    expect(accounts.peakCurrentA).toBe(101);
  });

  it('finds peak current and slope, the slope over half a second', () => {
    const accounts = new Accounts();
    for (let ms = 0; ms <= 4000; ms += 50) accounts.take(seen(ms, 0.02 * ms + (ms % 100 === 0 ? 0.1 : -0.1)));
    expect(accounts.peakRampAPerS).toBeGreaterThan(19.5);
    expect(accounts.peakRampAPerS).toBeLessThan(20.7);
    expect(accounts.peakCurrentA).toBeCloseTo(81.1, 6);
  });

  it('keeps the state of charge at start and end, as a mean of the rafts', () => {
    const accounts = new Accounts();
    accounts.take(seen(0, 0, { soc: 0.5 }));
    accounts.take(seen(500, 0, { soc: 0.6 }));
    expect(accounts.socStart).toBeCloseTo(0.55, 9);
    expect(accounts.socEnd).toBeCloseTo(0.65, 9);
    expect(meanSoc({ rafts: [null] } as unknown as Observation)).toBeNaN();
  });

  it('takes the highest voltage anyone could touch, and nothing from no meter', () => {
    const accounts = new Accounts();
    accounts.residual(seen(0, 0));
    expect(accounts.residualV).toBe(20);
    accounts.residual(null);
    expect(accounts.residualV).toBeNaN();
  });

  it('notes which limit binds, and when', () => {
    const accounts = new Accounts();
    expect(accounts.bind('a', 1)).toBe(true);
    expect(accounts.bind('a', 2)).toBe(false);
    expect(accounts.bind('b', 3)).toBe(true);
    accounts.bind('b', 4);
    expect(accounts.binding).toEqual([
      { limit: 'a', fromS: 1, toS: 3 },
      { limit: 'b', fromS: 3, toS: 4 },
    ]);
    for (let i = 0; i < 1000; i++) accounts.bind(`limit ${i}`, i);
    expect(accounts.binding.length).toBeLessThanOrEqual(200);
  });
});
