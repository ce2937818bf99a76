/** Ratings as named limits: 250 kW and 320 A of the converter, 300 A of the connection. */
import { expect, it } from 'vitest';
import { standingLimits } from '../../../src/checks/standing-limits.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, Run, Scene } from './build.js';
import { PartialScene } from './partial-scene.js';

function converterA(outputV: number, rig: Rig = depot): number {
  const scene = new Scene(rig).charging(100);
  scene.meter.outputV = outputV;
  return new Run(standingLimits, scene).reports(1).limit('converter');
}

it('names connection and converter, and states no code', () => {
  const run = new Run(standingLimits, new Scene().charging(100)).reports(1);
  expect(run.last.limits?.map(({ limit }) => limit)).toEqual(['connection', 'converter']);
  expect(run.limit('connection')).toBe(300);
  expect(run.limit('converter')).toBe(320);
  expect(run.last.findings).toEqual([]);
  expect(standingLimits.codes).toEqual([]);
});
it('bounds the converter by current or by power', () => {
  expect(converterA(781)).toBe(320);
  expect(converterA(810)).toBeCloseTo(250_000 / 810, 9);
});
it('takes power at the highest voltage, 850 V, where the volts cannot be those of a charge', () => {
  const weak: Rig = { ...depot, converter: { ...depot.converter, maxPowerW: 100_000 } };
  expect(converterA(400.1, weak)).toBeCloseTo(100_000 / 400.1, 9);
  for (const volts of [400, 0, -720, Number.NaN])
    expect(converterA(volts, weak), `${volts} V`).toBeCloseTo(100_000 / 850, 9);
  const blind = new PartialScene(weak);
  blind.missing.add('meter');
  expect(new Run(standingLimits, blind).reports(1).limit('converter')).toBeCloseTo(100_000 / 850, 9);
});
