/** The reading of the stop chain: one sample, parked or live. */
import { describe, expect, it } from 'vitest';
import { stopChain } from '../../../src/checks/stop-chain.js';
import { PHASES } from '../../../src/rig/roles.js';
import { depot, Run, Scene } from './build.js';
import { PartialScene } from './partial-scene.js';

describe('the stop chain', () => {
  it('acts on the first open sample and lets go when it is closed', () => {
    const run = new Run(stopChain, new Scene().charging(200)).reports(3);
    expect(run.failing).toEqual([]);
    const chain = (chainClosed: number) => run.reports(1, (s) => Object.assign(s.stop, { chainClosed }));
    expect(chain(0).failing).toEqual(['stop-chain-open']);
    const atMs = run.scene.nowMs;
    expect(chain(0).finding('stop-chain-open')).toMatchObject({
      ...{ reading: 0, limit: 1, unit: '', setting: 'stop.chainClosed', sinceMs: atMs },
    });
    // What has opened stays open while nothing new is heard.
    expect(run.tick(1000).failing).toEqual(['stop-chain-open']);
    expect(chain(1).failing).toEqual([]);
  });
  it.each([
    ['chainClosed', 0],
    ['chainClosed', Number.NaN],
    ['buttonPressed', 1],
    ['buttonPressed', Number.NaN],
  ])('takes %s at %s for open, in every phase until the plug is free', (field, value) => {
    for (const phase of PHASES) {
      const run = new Run(stopChain, new Scene().enter(phase)).reports(1, (s) =>
        Object.assign(s.stop, { [field]: value }),
      );
      expect(run.failing, phase).toEqual(phase === 'released' ? [] : ['stop-chain-open']);
      if (phase === 'released') expect(run.last).toEqual({ state: stopChain.initial(depot), findings: [] });
    }
  });
  it('says nothing of a chain it has never heard of, and keeps nothing of one it has', () => {
    const scene = new PartialScene();
    scene.stop.chainClosed = 0;
    const run = new Run(stopChain, scene).reports(1);
    scene.missing.add('stop');
    expect(run.reports(1).last).toEqual({ state: stopChain.initial(depot), findings: [] });
  });
});
