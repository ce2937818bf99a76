/** Matching before closing, and a train wired the wrong way round. */
import { describe, expect, it } from 'vitest';
import { voltageMatch } from '../../../src/checks/voltage-match.js';
import { PHASES } from '../../../src/rig/roles.js';
import { depot, Run, Scene } from './build.js';

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

describe('limits of the match', () => {
  it.each([
    { is: '8 V above', outputV: 728, plugV: 720, trainV: 720, ok: true },
    { is: 'beyond 8 V above', outputV: 728.1, plugV: 720, trainV: 720, ok: false },
    { is: '8 V below', outputV: 712, plugV: 720, trainV: 720, ok: true },
    { is: 'a plug 5 V above the train', outputV: 720, plugV: 725, trainV: 720, ok: true },
    { is: 'a plug further above', outputV: 720, plugV: 725.1, trainV: 720, ok: false },
    { is: 'a plug 5 V below', outputV: 720, plugV: 715, trainV: 720, ok: true },
    { is: 'a plug further below', outputV: 720, plugV: 714.9, trainV: 720, ok: false },
    // 60 V is what may be touched: matching that is matching a dead train.
    { is: 'an output at 60 V', outputV: 60, plugV: 61, trainV: 61, ok: false },
    { is: 'a train at 60 V', outputV: 61, plugV: 60, trainV: 60, ok: false },
    { is: 'both just above 60 V', outputV: 61, plugV: 61, trainV: 61, ok: true },
    { is: 'an unreadable output', outputV: Number.NaN, plugV: 720, trainV: 720, ok: false },
    { is: 'an unreadable plug', outputV: 720, plugV: Number.NaN, trainV: 720, ok: false },
    { is: 'an unreadable train', outputV: 720, plugV: 720, trainV: Number.NaN, ok: false },
  ])('$is: $ok', ({ outputV, plugV, trainV, ok }) => {
    expect(matching(outputV, plugV, trainV).reports(3).proofs).toEqual(ok ? ['voltage-matched'] : []);
  });
  it('allows the probe of 8 V on top while closing, not before', () => {
    const closing = (outputV: number) => {
      const run = matching(outputV);
      run.scene.enter('closing');
      return run.reports(3).proofs;
    };
    expect(closing(736)).toEqual(['voltage-matched']);
    expect(closing(736.1)).toEqual([]);
    expect(matching(736).reports(3).proofs).toEqual([]);
  });
  it('wants its three samples in a row, each counted once', () => {
    const run = matching(720).reports(2);
    run.scene.volts('output', 700);
    run.reports(1);
    run.scene.volts('output', 720);
    expect(run.reports(2).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['voltage-matched']);
    const frozen = matching(720).reports(2);
    frozen.scene.frozen.add('meter');
    expect(frozen.reports(5).proofs).toEqual([]);
  });
  it('stands on readings of exactly the permitted ages', () => {
    const run = matching(720).reports(3);
    expect(run.tick(depot.link.fastReadingMs).proofs).toEqual(['voltage-matched']);
    expect(run.tick(1).proofs).toEqual([]);
    const old = matching(720).reports(3);
    old.scene.frozen.add('train');
    expect(old.reports(depot.link.slowReadingMs / depot.link.periodMs).proofs).toEqual(['voltage-matched']);
    expect(old.reports(1).proofs).toEqual([]);
  });
});

describe('polarity', () => {
  it.each([
    { is: 'the plug alone', plugV: -720, trainV: 720, failing: true },
    { is: 'the train alone', plugV: 720, trainV: -720, failing: true },
    { is: 'a plug at -60 V, which is dead', plugV: -60, trainV: 0, failing: false },
    { is: 'a plug below -60 V', plugV: -60.1, trainV: 0, failing: true },
    { is: 'a plug that cannot be read', plugV: Number.NaN, trainV: 720, failing: true },
  ])('$is', ({ plugV, trainV, failing }) => {
    const run = matching(720, plugV, trainV);
    expect(run.reports(1).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(failing ? ['polarity-reversed'] : []);
    const found = run.finding('polarity-reversed');
    expect(found).toMatchObject({
      reading: Math.min(plugV, trainV),
      limit: -60,
      unit: 'V',
      setting: 'bleeder.safeV',
    });
    if (failing) expect(found.sinceMs).toBe(run.scene.nowMs - depot.link.periodMs);
  });
  it('is watched while the train joins and told with the first sample of matching', () => {
    const run = matching(0, -720, -720);
    run.scene.enter('joining-train');
    expect(run.reports(5).last.findings).toEqual([]);
    run.scene.enter('matching-voltage');
    expect(run.reports(1).failing).toEqual(['polarity-reversed']);
  });
});

describe('time', () => {
  // 95 % of 15 s.
  const lateReports = 14_250 / depot.link.periodMs;
  it('is over at 95 % of the time of the phase, not a report before', () => {
    const run = matching(600);
    expect(run.reports(lateReports).failing).toEqual([]);
    expect(run.finding('match-failed')).toMatchObject({
      reading: 120,
      limit: 8,
      setting: 'contactors.matchV',
    });
    expect(run.reports(1).failing).toEqual(['match-failed']);
  });
  it('fails with two matching samples by then, not with three', () => {
    for (const [samples, failing] of [
      [2, ['match-failed']],
      [3, []],
    ] as const) {
      const run = matching(600).reports(lateReports + 1 - samples);
      run.scene.volts('output', 720);
      expect(run.reports(samples).failing).toEqual(failing);
    }
  });
  it('is asked of matching alone', () => {
    const run = matching(600);
    run.scene.enter('closing');
    expect(run.reports(lateReports + 20).last.findings.map((f) => f.code)).toEqual(['polarity-reversed']);
  });
});

describe('when it speaks', () => {
  it('proves from matching until both poles are closed', () => {
    const proving = PHASES.filter((phase) => {
      const run = matching(720);
      run.scene.enter(phase);
      return run.reports(3).proofs.length > 0;
    });
    expect(proving).toEqual(['matching-voltage', 'pre-charging', 'closing']);
  });
  it('keeps no sample from before: not from joining, not across a phase in which it is silent', () => {
    for (const phase of ['joining-train', 'checking-isolation'] as const) {
      const run = matching(720).reports(phase === 'joining-train' ? 0 : 3);
      run.scene.enter(phase);
      run.reports(3);
      run.scene.enter('matching-voltage');
      expect(run.reports(2).proofs).toEqual([]);
      expect(run.reports(1).proofs).toEqual(['voltage-matched']);
    }
  });
  it.each(['meter', 'train'] as const)('says nothing without a %s, and forgets what it had', (role) => {
    const run = matching(720).reports(3);
    const silent = voltageMatch.run(run.state, { ...run.scene.report(), [role]: null }, depot);
    expect([silent.findings, silent.proofs ?? []]).toEqual([[], []]);
    expect(silent.state).toEqual(voltageMatch.initial(depot));
  });
});
