/**
 * The resistance of a raft from recordings written by formula: the step response of one resistance and one R-C pair,
 * V(t) = I·(R0 + R1·(1 − exp(−t/τ))), which shares nothing with the raft of the simulator.
 */
import { describe, expect, it } from 'vitest';
import { RaftResistance } from '../../../src/learn/raft-resistance.js';
import type { Rig } from '../../../src/rig/schema.js';
import { rigOf } from '../../sim/fixture.js';

// Worked by hand: 100 A, 0.4 mΩ, 0.6 mΩ, 30 s. 100·0.4 mΩ = 40 mV at once; at 30 s 40 + 60·(1 − 1/e) = 77.93 mV.
const STEP = { currentA: 100, r0Ohm: 0.4e-3, r1Ohm: 0.6e-3, tauS: 30 };
const REFERENCE_MV: readonly (readonly [atS: number, mV: number])[] = [
  [0, 40],
  [10, 57.01],
  [30, 77.93],
  [60, 91.88],
];
const riseV = (atS: number): number =>
  atS < 0 ? 0 : STEP.currentA * (STEP.r0Ohm + STEP.r1Ohm * (1 - Math.exp(-atS / STEP.tauS)));

const SERIES = 192;
const CAPACITY_AH = 1000;
const REST_S = 10;
const openV = (soc: number, slopeV = 1): number => 3 + slopeV * soc;

/** A raft of the same kind whose rig states so many times the resistance that was recorded. */
const ratedAt = (times: number, slopeV = 1): Rig =>
  rigOf('depot-cable', (rig) => {
    const { raft } = rig.battery;
    Object.assign(raft, { seriesCells: SERIES, parallelCells: 1, barsOhm: 0, maxCurrentA: 150 });
    Object.assign(raft.cell, {
      ocv: [0, 0.5, 1].map((soc) => ({ soc, v: openV(soc, slopeV) })),
      capacityAh: CAPACITY_AH,
      ...{ r0Ohm: STEP.r0Ohm * times, r1Ohm: STEP.r1Ohm * times, tau1S: STEP.tauS },
      ...{ r2Ohm: 0, tau2S: 600 },
    });
  });

interface Written {
  readonly rig: Rig;
  readonly forS?: number;
  readonly currentA?: number;
  /** Of the open-circuit volts, V from empty to full. */
  readonly slopeV?: number;
  /** The voltmeter reads so much too high. */
  readonly levelV?: number;
  /** The management unit says so much more charge than there is. */
  readonly socOff?: number;
  /** Half-way it leaps by this: cells that parted, or a voltmeter. */
  readonly leapV?: number;
  readonly stands?: boolean;
  readonly unreadable?: string;
}

function found({ rig, forS = 90, currentA = STEP.currentA, ...off }: Written) {
  const of = new RaftResistance(rig, 'raft-1');
  for (let k = 0; k <= (REST_S + forS) * 20; k++) {
    const atS = k / 20 - REST_S;
    const soc = 0.4 + (Math.max(0, atS) * currentA) / 3600 / CAPACITY_AH;
    const volts = openV(soc, off.slopeV) + (riseV(atS) * currentA) / STEP.currentA;
    const values = {
      sample: off.stands ? 7 : k,
      packV: SERIES * volts + (off.levelV ?? 0) + (atS > forS / 2 ? (off.leapV ?? 0) : 0),
      packA: atS < 0 ? 0 : currentA,
      soc: soc + (off.socOff ?? 0),
      ...{ cellMinC: 24.5, cellMaxC: 25.5 },
      ...(off.unreadable === undefined ? {} : { [off.unreadable]: Number.NaN }),
    };
    of.take(k / 20, values);
  }
  return of.result;
}

describe('a raft recorded by formula', () => {
  it('is written as the reference says', () => {
    for (const [atS, mV] of REFERENCE_MV) expect(1000 * riseV(atS)).toBeCloseTo(mV, 2);
  });

  it.each([1, 1 / 1.08, 1.25, 0.5])('is found to have what its rig states, divided by %d', (times) => {
    // The step lies somewhere between two samples 50 ms apart; of 30 s that is a thousandth.
    const told = found({ rig: ratedAt(times) });
    expect(told).toMatchObject({ value: expect.any(Number) });
    const { value = 0 } = told as { value?: number };
    expect(Math.abs(value * times - 1)).toBeLessThan(1e-3);
  });

  it.each<[string, number, Partial<Written>]>([
    ['a charge told wrong', 1, { socOff: 0.01 }],
    // On a curve so flat no charge told wrong could stand for it.
    ['a voltmeter that reads high', 0.02, { levelV: 1.5 }],
  ])('is found all the same with %s', (_, slopeV, off) => {
    const told = found({ rig: ratedAt(1.25, slopeV), slopeV, ...off });
    expect(told).toMatchObject({ value: expect.closeTo(0.8, 2) });
  });

  it.each<[Partial<Written>, string]>([
    [{ currentA: 10 }, 'too little current'],
    [{ forS: 10 }, 'too short'],
    [{ stands: true }, 'too little current'],
    [{ unreadable: 'packV' }, 'sensor missing: raft-1 packV'],
    [{ unreadable: 'cellMaxC' }, 'sensor missing: raft-1 cellC'],
    [{ leapV: 12 }, 'does not follow the model of a raft'],
  ])('cannot be told from %j', (off, why) => {
    expect(found({ rig: ratedAt(1), ...off })).toEqual({ why });
  });
});
