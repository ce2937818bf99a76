/** Presence by pilot loop: proof, each way of losing it, and who is named. */
import { describe, expect, it } from 'vitest';
import { presenceLoop } from '../../../src/checks/presence-loop.js';
import { Run, Scene, shoes } from './build.js';

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
