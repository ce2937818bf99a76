/** Matching before closing, and a train wired the wrong way round. */
import { describe, expect, it } from 'vitest';
import { voltageMatch } from '../../../src/checks/voltage-match.js';
import { Run, Scene } from './build.js';

const matching = (outputV: number, plugV = 720, trainV = 720) => {
  const scene = new Scene().charging(0, 'matching-voltage');
  scene.volts('output', outputV).volts('plug', plugV);
  scene.train.trainV = trainV;
  return new Run(voltageMatch, scene);
};

describe('voltage match', () => {
  it('is proven by three samples within the limit of 8 V', () => {
    expect(matching(713).reports(2).proofs).toEqual([]);
    expect(matching(713).reports(3).proofs).toEqual(['voltage-matched']);
    expect(matching(711).reports(10).proofs).toEqual([]);
  });
  it('wants the plug voltmeter to agree on what is being met', () => {
    expect(matching(720, 712).reports(10).proofs).toEqual([]);
  });
  it('does not match zero with zero', () => {
    expect(matching(0, 0, 0).reports(10).proofs).toEqual([]);
  });
  it('is lost with an unreadable volt and with a stale train', () => {
    const run = matching(720).reports(3);
    expect(
      run.reports(1, (s) => {
        s.meter.plugV = Number.NaN;
      }).proofs,
    ).toEqual([]);
    const old = matching(720).reports(3);
    old.scene.frozen.add('train');
    expect(old.reports(41).proofs).toEqual([]);
  });
  it('calls reversed polarity in two samples, whatever the converter does', () => {
    const run = matching(0, -720, -720).reports(2);
    expect(run.failing).toEqual(['polarity-reversed']);
    expect(run.finding('polarity-reversed').reading).toBe(-720);
  });
  it('says that it failed before the phase is merely overdue', () => {
    const run = matching(600);
    expect(run.reports(280).failing).toEqual([]);
    expect(run.reports(10).failing).toEqual(['match-failed']);
    expect(run.scene.rig.times.matchingS).toBe(15);
  });
});
