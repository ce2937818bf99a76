/** Thermal resistance and time constant from temperatures written by formula, with noise and counts of a sensor. */
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { Heating } from '../../../src/learn/heating.js';
import { tells } from '../../../src/learn/told.js';

const NOW = { thermalResistanceKPerW: 2.5, thermalTimeConstantS: 600 };
const HEAT_W = 9;
const BEFORE_S = 20;

interface Written {
  readonly forS: number;
  readonly resistance?: number;
  readonly timeS?: number;
  /** Warmer than the air when it begins. */
  readonly warmerK?: number;
  readonly heatW?: number;
  readonly unreadable?: boolean;
  readonly seed?: number;
  /** Heat that is not of this current, K/s. */
  readonly otherKPerS2?: number;
}

/** Step of the heat after 20 s: T = air + warmer·exp(−t/τ) + P·R·(1 − exp(−(t − 20 s)/τ)). */
function found({ forS, seed = 1, ...truth }: Written) {
  const { resistance = 2.5, timeS = 600, warmerK = 0, heatW = HEAT_W, otherKPerS2 = 0 } = truth;
  const random = new SeededRandom(seed);
  const heating = new Heating(NOW, 'contact');
  for (let k = 0; k <= (BEFORE_S + forS) * 20; k++) {
    const tS = k / 20;
    const on = Math.max(0, tS - BEFORE_S);
    const c =
      20 +
      warmerK * Math.exp(-tS / timeS) +
      heatW * resistance * (1 - Math.exp(-on / timeS)) +
      otherKPerS2 * on * on;
    const read = Math.round((c + 0.05 * random.gaussian()) * 10) / 10;
    heating.take(100 + tS, truth.unreadable ? Number.NaN : read, on > 0 ? heatW : 0);
  }
  return heating.result;
}
const within = (told: ReturnType<typeof found>['resistance'], truth: number): boolean =>
  tells(told) && Math.abs(told.value - truth) <= 3 * told.error;

describe('heating', () => {
  it('tells resistance and time constant where the record is long enough', () => {
    const { resistance, timeConstant } = found({ forS: 1800, resistance: 3, timeS: 450 });
    expect(within(resistance, 3)).toBe(true);
    expect(within(resistance, 2.5)).toBe(false);
    expect(within(timeConstant, 450)).toBe(true);
    expect(within(timeConstant, 600)).toBe(false);
  });

  it('holds the time constant of the rig where it is not, and finds the resistance with it', () => {
    const { resistance, timeConstant, timeConstantS } = found({ forS: 180, resistance: 3 });
    expect(timeConstant).toEqual({ why: 'too short' });
    expect(timeConstantS).toBe(600);
    expect(within(resistance, 3)).toBe(true);
    expect(within(resistance, 2.5)).toBe(false);
  });

  it.each([-4, 6])('is not deceived by a beginning %d K warmer than the air', (warmerK) => {
    expect(within(found({ forS: 300, warmerK }).resistance, 2.5)).toBe(true);
    expect(within(found({ forS: 300, warmerK, resistance: 3 }).resistance, 2.5)).toBe(false);
  });

  it('errs by no more than it says in about the share of cases it says', () => {
    let outside = 0;
    for (let seed = 1; seed <= 40; seed++) {
      const { resistance } = found({ forS: 120, seed });
      if (tells(resistance) && Math.abs(resistance.value - 2.5) > 1.96 * resistance.error) outside++;
    }
    // Two of forty are to be expected; more than six come about once in a hundred times.
    expect(outside).toBeLessThanOrEqual(6);
  });

  it.each<[Partial<Written>, string]>([
    [{ heatW: 0.1 }, 'too little current'],
    [{ forS: 15 }, 'too short'],
    [{ unreadable: true }, 'sensor missing: contact'],
    [{ otherKPerS2: 0.0005 }, 'does not follow the heat of the current'],
  ])('cannot tell from %j', (off, why) => {
    const { resistance, timeConstant } = found({ forS: 200, ...off });
    expect(resistance).toEqual({ why });
    expect(timeConstant).toEqual({ why });
  });
});
