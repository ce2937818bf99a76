/** Presence by pilot loop: proof, each way of losing it, and who is named. */
import { describe, expect, it } from 'vitest';
import { openBelowA } from '../../../src/checks/loop-figures.js';
import { presenceLoop } from '../../../src/checks/presence-loop.js';
import { PHASES, type Phase } from '../../../src/rig/roles.js';
import { depot, Run, Scene, shoes } from './build.js';
import { halfWaves } from './half-waves.js';

const CRUSHED = { meanA: 0, rmsA: 11.483e-3, peakPositiveA: 16.24e-3, peakNegativeA: -16.24e-3 };
const OPEN = { meanA: 0, rmsA: 2e-5, peakPositiveA: 3e-5, peakNegativeA: -3e-5 };
const REVERSED = { meanA: -5.0064e-3, rmsA: 7.9627e-3, peakPositiveA: 0, peakNegativeA: -16.11e-3 };
/** W14: diode and 1.25 kΩ are the boundary; here 1 kΩ. */
const LEAKY = { meanA: 2.2e-3, rmsA: 9.1e-3, peakPositiveA: 15.9e-3, peakNegativeA: -8.49e-3 };

function proving() {
  const scene = new Scene().enter('proving-presence').order('pilot', { pilotOn: true });
  // The window in which the source came on counts for nothing.
  return new Run(presenceLoop, scene).reports(1);
}

describe('presence by loop', () => {
  it('is proven by three genuine windows, not by two', () => {
    expect(proving().reports(2).proofs).toEqual([]);
    expect(proving().reports(3).proofs).toEqual(['presence']);
  });
  it('does not count the window in which the source came on', () => {
    const scene = new Scene().enter('proving-presence').order('pilot', { pilotOn: true });
    const run = new Run(presenceLoop, scene).reports(1, (s) => Object.assign(s.loop, { pilotOn: 0 }));
    run.reports(3, (s) => Object.assign(s.loop, { pilotOn: 1 }));
    expect(run.proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['presence']);
  });
  it('fails a source that never comes on', () => {
    const off = { ...OPEN, pilotOn: 0 };
    expect(proving().reports(10, (s) => Object.assign(s.loop, off)).failing).toEqual(['loop-open']);
  });
  it('is not proven by ticks between windows', () => {
    const run = proving().reports(2);
    for (let k = 0; k < 20; k++) run.tick(10);
    expect(run.proofs).toEqual([]);
  });
  it('names a reversed diode in proving, within a second', () => {
    const run = proving().reports(20, (s) => Object.assign(s.loop, REVERSED));
    expect(run.failing).toEqual(['loop-reversed']);
    expect(run.proofs).toEqual([]);
    expect(run.finding('loop-reversed').sinceMs).toBeLessThan(run.scene.nowMs - 900);
  });
  it('forgives the first windows after the source came on', () => {
    const run = proving().reports(3, (s) => Object.assign(s.loop, OPEN));
    expect(run.failing).toEqual([]);
  });
  it('trips on one window without any current while live, and on the second of any other', () => {
    const live = () => {
      const run = proving().reports(3);
      run.scene.charging(200);
      return run.reports(2);
    };
    expect(live().proofs).toEqual(['presence']);
    expect(live().reports(1, (s) => Object.assign(s.loop, OPEN)).failing).toEqual(['loop-open']);
    const crushed = live().reports(1, (s) => Object.assign(s.loop, CRUSHED));
    expect(crushed.failing).toEqual([]);
    expect(crushed.proofs).toEqual(['presence']);
    expect(crushed.reports(1).failing).toEqual(['loop-crushed']);
    expect(crushed.proofs).toEqual([]);
    const leaky = live().reports(2, (s) => Object.assign(s.loop, LEAKY));
    expect(leaky.failing).toEqual(['loop-leaky']);
    expect(leaky.finding('loop-leaky').setting).toBe('pilot.minShuntOhm');
  });
  it('must be earned again once lost', () => {
    const sound = { ...new Scene().loop };
    const run = proving().reports(3);
    run.scene.charging(200);
    run.reports(1, (s) => Object.assign(s.loop, OPEN));
    expect(run.reports(2, (s) => Object.assign(s.loop, sound)).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['presence']);
  });
  it('is not proven by a source that says it is off, nor by an old window', () => {
    expect(
      proving().reports(5, (s) => {
        s.loop.pilotOn = 0;
      }).proofs,
    ).toEqual([]);
    const run = proving().reports(3);
    expect(run.tick(run.scene.rig.link.fastReadingMs + 1).proofs).toEqual([]);
  });
  it('has nothing to say on a shoes rig', () => {
    const scene = new Scene(shoes).enter('proving-presence');
    expect(new Run(presenceLoop, scene).reports(5).last.findings).toEqual([]);
  });
});

describe('verdicts and what people read of them', () => {
  const wave = (seriesOhm: number, shuntOhm: number) => {
    const { a, b, ...features } = halfWaves(seriesOhm, shuntOhm, 0.7);
    return features;
  };
  const NONE = Number.POSITIVE_INFINITY;
  it.each([
    { is: '60 Ω of core', features: wave(60, NONE), code: 'loop-high-resistance', reading: 60, limit: 45 },
    { is: 'a shunt of 1 kΩ', features: wave(10, 1000), code: 'loop-leaky', reading: 1000, limit: 1250 },
    { is: 'a shunt of 2 kΩ', features: wave(10, 2000), code: 'loop-leaky', reading: 2000, limit: 3000 },
    { is: 'an open core', features: OPEN, code: 'loop-open', reading: 2e-5, limit: openBelowA(depot.pilot!) },
    { is: 'a bridged diode', features: CRUSHED, code: 'loop-crushed', reading: 0, limit: 0.1 },
    { is: 'a reversed diode', features: REVERSED, code: 'loop-reversed', reading: -1, limit: 0.1 },
  ] as const)('$is is $code', ({ features, code, reading, limit }) => {
    const run = proving().reports(3);
    run.scene.charging(200);
    run.reports(2, (s) => Object.assign(s.loop, features));
    expect(run.failing).toEqual([code]);
    const found = run.finding(code);
    expect(Math.abs(found.reading - reading)).toBeLessThan(0.005 * Math.max(1, Math.abs(reading)));
    expect(found.limit).toBeCloseTo(limit, 9);
  });
  it.each([
    ['loop-high-resistance', 'ohm', 'pilot.maxSeriesOhm', 45],
    ['loop-leaky', 'ohm', 'pilot.genuineShuntOhm', 3000],
    ['loop-open', 'A', 'pilot.sourceOhm', openBelowA(depot.pilot!)],
    ['loop-crushed', 'share', 'pilot.diodeDropV', 0.1],
    ['loop-reversed', 'share', 'pilot.diodeDropV', 0.1],
    ['loop-unclear', 'share', 'pilot.diodeDropV', 0.1],
  ] as const)('%s is stated of a sound loop too, in %s, with %s', (code, unit, setting, limit) => {
    const run = proving().reports(1);
    expect(run.finding(code)).toMatchObject({
      failing: false,
      unit,
      setting,
      limit,
      sinceMs: run.scene.nowMs,
    });
  });
  it('gives the least shunt as the limit only below it', () => {
    const settings = [1240, 1260].map((shuntOhm) => {
      const run = proving().reports(1, (s) => Object.assign(s.loop, wave(10, shuntOhm)));
      return run.finding('loop-leaky').setting;
    });
    expect(settings).toEqual(['pilot.minShuntOhm', 'pilot.genuineShuntOhm']);
  });
  it('has no figure before the first window counts', () => {
    for (const { reading, limit, unit, setting, failing } of proving().last.findings) {
      expect([reading, limit]).toEqual([Number.NaN, Number.NaN]);
      expect([unit, setting, failing]).toEqual(['A', 'pilot', false]);
    }
  });
  it('calls a sound wave from a source that says it is off unclear', () => {
    const run = proving().reports(3);
    run.scene.charging(200);
    expect(run.reports(1, (s) => Object.assign(s.loop, { pilotOn: 0 })).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['loop-unclear']);
  });
  it('gives the time of the first bad window', () => {
    const run = proving().reports(3);
    run.scene.charging(200);
    const firstMs = run.scene.nowMs + depot.link.periodMs;
    run.reports(3, (s) => Object.assign(s.loop, CRUSHED));
    expect(run.finding('loop-crushed').sinceMs).toBe(firstMs);
  });
});

describe('what counts as a window', () => {
  it('gives a loop just switched on four windows and 300 ms', () => {
    const spoilt = () => {
      const run = proving();
      Object.assign(run.scene.loop, CRUSHED);
      return run;
    };
    // Seven windows 50 ms apart span 300 ms.
    expect(spoilt().reports(6).failing).toEqual([]);
    expect(spoilt().reports(7).failing).toEqual(['loop-crushed']);
    expect(spoilt().burst(3, 200).failing).toEqual([]);
    expect(spoilt().burst(4, 100).failing).toEqual(['loop-crushed']);
  });
  it('judges nothing in proving before the source was ordered on', () => {
    const scene = new Scene().enter('proving-presence');
    const run = new Run(presenceLoop, scene).reports(20);
    expect(run.proofs).toEqual([]);
    expect(run.reports(20, (s) => Object.assign(s.loop, OPEN)).failing).toEqual([]);
  });
  it('skips the straddling window each time the source comes on', () => {
    const run = proving().reports(2);
    run.reports(1, (s) => Object.assign(s.loop, { pilotOn: 0 }));
    run.reports(1, (s) => Object.assign(s.loop, { pilotOn: 1 }));
    expect(run.reports(2).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['presence']);
  });
  it('does not skip a window while live: a source that went off and on is two bad windows at most', () => {
    const run = proving().reports(3);
    run.scene.charging(200);
    run.reports(1, (s) => Object.assign(s.loop, { pilotOn: 0 }));
    expect(run.reports(1, (s) => Object.assign(s.loop, { pilotOn: 1, ...CRUSHED })).failing).toEqual([
      'loop-crushed',
    ]);
  });
  it('counts a window once: a report that repeats it makes neither proof nor trip', () => {
    const run = proving().reports(2);
    run.scene.frozen.add('loop');
    expect(run.reports(5).proofs).toEqual([]);
    const live = proving().reports(3);
    live.scene.charging(200);
    live.reports(1, (s) => Object.assign(s.loop, CRUSHED));
    live.scene.frozen.add('loop');
    expect(live.reports(5).failing).toEqual([]);
  });
  it('stands on a window of exactly the permitted age', () => {
    const run = proving().reports(3);
    expect(run.tick(depot.link.fastReadingMs).proofs).toEqual(['presence']);
    expect(run.tick(1).proofs).toEqual([]);
  });
  it('starts the row anew after a window that is not genuine', () => {
    const sound = { ...new Scene().loop };
    const run = proving().reports(2);
    run.reports(1, (s) => Object.assign(s.loop, CRUSHED));
    expect(run.reports(2, (s) => Object.assign(s.loop, sound)).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['presence']);
  });
});

describe('when it speaks', () => {
  const session = PHASES.slice(PHASES.indexOf('proving-presence'), PHASES.indexOf('parting-train') + 1);
  const tripped: Phase[] = ['tripped-ramping-down'];
  const afterwards: Phase[] = ['making-safe', 'safe', 'not-proven-dead'];
  const speaksIn = (pilotOn: boolean) =>
    PHASES.filter((phase) => {
      const scene = new Scene().enter(phase).order('pilot', { pilotOn });
      return new Run(presenceLoop, scene).reports(1).last.findings.length > 0;
    });
  it('from proving until the train is parted, and after a trip only while the source is ordered on', () => {
    expect(speaksIn(true).sort()).toEqual([...session, ...tripped, ...afterwards].sort());
    expect(speaksIn(false).sort()).toEqual([...session, ...tripped].sort());
  });
  it('keeps nothing of an earlier session, and says nothing without a loop monitor', () => {
    const run = proving().reports(3);
    run.scene.enter('bleeding');
    run.reports(1);
    run.scene.enter('proving-presence');
    expect(run.reports(3).proofs).toEqual([]);
    const seen = { ...new Scene().enter('holding').report(), loop: null };
    const silent = presenceLoop.run(presenceLoop.initial(depot), seen, depot);
    expect(silent.findings).toEqual([]);
    expect(silent.proofs ?? []).toEqual([]);
  });
});
