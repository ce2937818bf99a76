/** Slope, hold point and end of the ramp. W22: 20 A/s at 750 V is 15 kW/s. */
import { describe, expect, it } from 'vitest';
import { ramp } from '../../../src/checks/ramp.js';
import { Run, Scene } from './build.js';
import { feed, feedMany } from './spoil.js';

function ramping(fromA: number, aPerS: number, reports: number) {
  const run = new Run(ramp, new Scene().charging(fromA, 'ramping'));
  return run.reports(reports, (s, k) => {
    const a = fromA + aPerS * 0.05 * (k + 1);
    s.governed.setpointA = a;
    // 1 % ripple, as instants of it fall into the reports.
    s.amps(a * (1 + 0.005 * Math.sin(k * 2.1)));
  });
}

describe('slope', () => {
  it('lets the governed slope with ripple pass', () => {
    expect(ramping(0, 20, 290).failing).toEqual([]);
  });
  it('does not let three times the slope pass', () => {
    const run = new Run(ramp, new Scene().charging(100, 'ramping')).reports(40, (s, k) =>
      s.amps(100 + 3 * k),
    );
    expect(run.failing).toEqual(['current-too-steep']);
    expect(run.finding('current-too-steep').reading).toBeGreaterThan(50);
  });
  it('calls a step of 30 A at the first step of the ramp in the second report', () => {
    const run = ramping(0, 20, 4);
    run.reports(1, (s) => s.amps(34));
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['current-too-steep']);
    expect(run.finding('current-too-steep').sinceMs).toBe(run.scene.nowMs - 50);
  });
  it('leaves a meter that jumps alone to the check that compares instruments', () => {
    const run = ramping(100, 20, 10).reports(3, (s) => {
      s.meter.currentA = 150;
    });
    expect(run.failing).toEqual([]);
  });
  it('leaves an overshoot of a few percent to the over-current check', () => {
    const run = ramping(240, 20, 10);
    run.reports(4, (s) => s.amps(s.governed.setpointA * 1.1));
    expect(run.failing).toEqual([]);
  });
  it('says nothing of a current that falls', () => {
    expect(ramping(200, -100, 20).failing).toEqual([]);
  });
});

/** Standing at a current with the set-point there, the governor permitting this slope. */
function standing(currentA: number, slopeAPerS = 0) {
  const run = new Run(ramp, new Scene().charging(currentA, 'ramping'));
  run.scene.governed.slopeAPerS = slopeAPerS;
  return run.reports(8);
}

describe('what a rise is held against', () => {
  // 2 % (at least 2.5 A) for the loop and 1 % ripple: 3.5 A at 100 A, 9 A at 300 A, whatever the time.
  it.each([
    [96.5, 100],
    [47, 50],
    [291, 300],
  ])('with no slope permitted, from %d to %d A and no more', (fromA, toA) => {
    const run = standing(fromA);
    run.scene.governed.setpointA = toA;
    expect(run.reports(4, (s) => s.amps(toA)).failing).toEqual([]);
    const more = standing(fromA - 0.1);
    more.scene.governed.setpointA = toA;
    expect(more.reports(2, (s) => s.amps(toA)).failing).toEqual(['current-too-steep']);
  });
  it('1.5 times the slope over a quarter of a second', () => {
    // Floor 3.5 A near 100 A and 30 A/s: 2 A more in each report are 40 A/s, 10 A in 250 ms against 11 A.
    const run = standing(90, 20);
    run.scene.governed.setpointA = 130;
    expect(run.reports(5, (s, k) => s.amps(90 + 2 * (k + 1))).failing).toEqual([]);
    const steeper = standing(90, 20);
    steeper.scene.governed.setpointA = 130;
    expect(steeper.reports(8, (s, k) => s.amps(90 + 2.5 * (k + 1))).failing).toEqual(['current-too-steep']);
  });
  it.each([
    [20, 30],
    [5, 7.5],
    [50, 30],
    [-10, 0],
  ])(
    'tells 1.5 times the governed slope of %d A/s, never more than the rig permits: %d A/s',
    (slope, limit) => {
      const { limit: told, unit } = standing(100, slope).finding('current-too-steep');
      expect([told, unit]).toEqual([limit, 'A/s']);
    },
  );
  it.each([
    ['a slope above the rig’s is no licence', 50, 20],
    ['a falling set-point permits no rise, and takes none away', -10, 0],
  ])('%s', (_, governed, counted) => {
    const rise = 3.5 + (counted * 1.5 * 50) / 1000;
    const inside = standing(100 - rise + 0.01, governed);
    inside.scene.governed.setpointA = 100;
    expect(inside.reports(4, (s) => s.amps(100)).failing).toEqual([]);
    const step = standing(100 - rise - 0.01, governed);
    step.scene.governed.setpointA = 100;
    step.reports(1, (s) => s.amps(100));
    expect(step.state.steep.bad).toBe(1);
  });
  it('tells the steepest part of it', () => {
    const run = standing(100, 20);
    run.reports(1, (s) => s.amps(130));
    // 30 A in one report.
    expect(run.finding('current-too-steep').reading).toBeCloseTo(600, 6);
    run.reports(1);
    expect(run.failing).toEqual(['current-too-steep']);
    expect(run.finding('current-too-steep').reading).toBeCloseTo(300, 6);
    expect(
      standing(100)
        .reports(3, (s, k) => s.amps(90 - k))
        .finding('current-too-steep').reading,
    ).toBeLessThan(0);
  });
  it.each([
    ['to 20 % over the set-point is an overshoot', 90, 120, false],
    ['beyond is none', 90, 120.1, true],
    ['to the set-point itself is none: it stepped', 50, 100, true],
    ['to below it is none', 50, 90, true],
  ])('a jump %s', (_, fromA, toA, steep) => {
    const run = standing(fromA, 20);
    run.scene.governed.setpointA = 100;
    expect(run.reports(2, (s) => s.amps(toA)).failing).toEqual(steep ? ['current-too-steep'] : []);
  });
});

describe('samples', () => {
  it('does not trip on a single one that cannot be read, but on two', () => {
    const run = standing(100, 20).reports(1, (s) => s.amps(Number.NaN));
    expect(run.reports(1, (s) => s.amps(100)).failing).toEqual([]);
    expect(run.reports(4).failing).toEqual([]);
    expect(run.reports(2, (s) => s.amps(Number.NaN)).failing).toEqual(['current-too-steep']);
    expect(run.finding('current-too-steep').reading).toBeNaN();
  });
  it('fails without a converter beside the meter', () => {
    expect(feedMany(standing(100), 2, { converter: null }).findings[0]!.failing).toBe(true);
  });
  it('a tick brings none', () => {
    const run = standing(100, 20).reports(1, (s) => s.amps(130));
    for (let k = 0; k < 5; k++) run.tick(25);
    expect(run.failing).toEqual([]);
  });
  it('says nothing without a meter, nor where no ramp is, and begins anew after it', () => {
    expect(feed(standing(100), { meter: null }).findings).toEqual([]);
    for (const phase of ['closing', 'ramping-down', 'opening', 'tripped-ramping-down'] as const) {
      const run = standing(100, 20).reports(1, (s) => s.amps(130));
      run.scene.enter(phase);
      expect(run.reports(1).last.findings).toEqual([]);
      run.scene.enter('ramping');
      expect(run.reports(3).failing).toEqual([]);
    }
  });
  it.each(['ramping', 'holding', 'tapering'] as const)('is asked while %s', (phase) => {
    const run = standing(100);
    run.scene.enter(phase);
    expect(run.reports(2, (s) => s.amps(130)).failing).toEqual(['current-too-steep']);
  });
});

/** In how many reports of standing there it is proven that the ramp is at its limit; 0 within ten: never. */
function provenAfter(
  leastLimitA: number,
  setpointA: number,
  phase: 'ramping' | 'holding' = 'ramping',
): number {
  const run = new Run(ramp, new Scene().charging(setpointA, phase));
  Object.assign(run.scene.governed, { setpointA, leastLimitA });
  for (let k = 1; k <= 10; k++) if (run.reports(1).proofs.includes('at-limit')) return k;
  return 0;
}

describe('the limit', () => {
  // The first of the samples sees a limit it has not seen before; four must have stood.
  it.each([
    ['at it', 200, 200, 4],
    ['within half an ampere', 200, 199.5, 4],
    ['further off', 200, 199.4, 0],
    ['or within 0.2 %', 300, 299.4, 4],
    ['further off than that', 300, 299.3, 0],
    ['nothing is permitted', 0, 0, 0],
    ['half an ampere from the hold point it only waits', 30.5, 30.5, 0],
    ['further from it, it is the limit', 30.6, 30.6, 4],
  ])('%s: least limit %d A, set-point %d A', (_, leastLimitA, setpointA, after) => {
    expect(provenAfter(leastLimitA, setpointA)).toBe(after);
  });
  it('is proven only while ramping', () => {
    expect(provenAfter(200, 200, 'holding')).toBe(0);
  });
  it('at the height of the hold point is believed after a minute', () => {
    const at = (phaseMs: number) => {
      const run = standing(30);
      run.scene.governed.leastLimitA = 30;
      return feedMany(run, 5, { phaseMs }).proofs;
    };
    expect(at(59_999)).not.toContain('at-limit');
    expect(at(60_000)).toContain('at-limit');
  });
  it.each([
    ['moved by 0.5 %', 200, 201, true],
    ['moved by more', 200, 201.1, false],
    ['moved by 0.3 A', 40, 40.29, true],
    ['moved by more', 40, 40.4, false],
  ])('%s stands, or counts anew: %d to %d A', (_, fromA, toA, stands) => {
    const run = standing(fromA);
    const to = (a: number) => Object.assign(run.scene.governed, { setpointA: a, leastLimitA: a });
    to(fromA);
    expect(run.reports(4).proofs).toEqual(['at-limit']);
    to(toA);
    expect(run.reports(1, (s) => s.amps(toA)).proofs).toEqual(stands ? ['at-limit'] : []);
  });
  it('is not proven of one that creeps', () => {
    const run = standing(200).reports(20, (s, k) => {
      Object.assign(s.governed, { setpointA: 200 + 0.6 * k, leastLimitA: 200 + 0.6 * k });
      s.amps(200);
    });
    expect(run.proofs).toEqual([]);
  });
});

describe('where the ramp stands', () => {
  it('proves it on fresh samples only', () => {
    const run = standing(30);
    expect(run.tick(400).proofs).toEqual(['at-hold-point']);
    expect(run.tick(1).proofs).toEqual([]);
  });
  it('asks three samples of the hold point, and none after the ramp', () => {
    const run = new Run(ramp, new Scene().charging(30, 'ramping')).reports(2);
    expect(run.proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['at-hold-point']);
    expect(new Run(ramp, new Scene().charging(30, 'holding')).reports(6).proofs).toEqual([]);
  });
  it('is at the hold point when set-point and current stand there', () => {
    const run = ramping(0, 20, 5);
    expect(run.proofs).toEqual([]);
    run.scene.governed.setpointA = 30;
    expect(run.reports(3, (s) => s.amps(24)).proofs).toEqual([]);
    expect(run.reports(3, (s) => s.amps(30)).proofs).toEqual(['at-hold-point']);
  });
  it('does not take the wait at the hold point for the limit', () => {
    const run = ramping(0, 20, 5);
    Object.assign(run.scene.governed, { setpointA: 30, leastLimitA: 30 });
    expect(run.reports(40, (s) => s.amps(30)).proofs).toEqual(['at-hold-point']);
  });
  it('is at the limit only when the limit stands still', () => {
    const run = ramping(100, 20, 10);
    Object.assign(run.scene.governed, { setpointA: 200, leastLimitA: 200 });
    expect(run.reports(6, (s) => s.amps(200)).proofs).toEqual(['at-limit']);
    const folding = ramping(100, 20, 10).reports(20, (s, k) => {
      Object.assign(s.governed, { setpointA: 200 - 3 * k, leastLimitA: 200 - 3 * k });
      s.amps(200 - 3 * k);
    });
    expect(folding.proofs).toEqual([]);
  });
});
