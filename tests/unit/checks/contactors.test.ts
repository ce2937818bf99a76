/** Closing by auxiliary and by volts; auxiliaries that lie; poles that fall open. */
import { describe, expect, it } from 'vitest';
import { contactors } from '../../../src/checks/contactors.js';
import { Run, Scene } from './build.js';

function closing() {
  const scene = new Scene().charging(0, 'closing');
  Object.assign(scene.contactor, { closedP: 0, closedN: 0 });
  scene.order('contactorP', { closedP: true }).order('contactorN', { closedN: false });
  scene.converter.appliedLimitV = 720;
  return new Run(contactors, scene);
}
function bothClosed() {
  const run = closing().reports(2);
  run.scene.order('contactorN', { closedN: true });
  return run.reports(2, (s) => Object.assign(s.contactor, { closedP: 1, closedN: 1 }));
}

describe('closing', () => {
  it('gives a pole its time, then names it', () => {
    const run = closing().reports(4);
    expect(run.failing).toEqual([]);
    expect(run.reports(2).failing).toEqual(['pole-not-closed/P']);
  });
  it('confirms each pole by its auxiliary, and both by nothing yet', () => {
    expect(bothClosed().proofs).toEqual(['closed-p', 'closed-n']);
  });
  it('takes equal volts without a pull for no proof at all', () => {
    expect(bothClosed().reports(100).proofs).not.toContain('poles-follow');
  });
  it('proves the poles when the output stays down against the pull', () => {
    const run = bothClosed().reports(8, (s) => {
      s.converter.appliedLimitV = 728;
    });
    expect(run.proofs).not.toContain('poles-follow');
    expect(run.reports(5).proofs).toContain('poles-follow');
    expect(run.failing).toEqual([]);
  });
  it('finds the pole whose auxiliary lies: the output follows the pull', () => {
    const run = bothClosed().reports(12, (s) => {
      s.converter.appliedLimitV = 728;
      s.volts('output', 728);
    });
    expect(run.failing).toEqual(['pole-volts-differ']);
    expect(run.proofs).not.toContain('poles-follow');
  });
  it('wants the volts readable', () => {
    const run = bothClosed().reports(12, (s) => {
      s.converter.appliedLimitV = 728;
      s.meter.outputV = Number.NaN;
    });
    expect(run.failing).toEqual(['pole-volts-differ']);
  });
});

describe('staying closed', () => {
  it('names a pole that drops out under current', () => {
    const run = bothClosed();
    run.scene.charging(200);
    run.reports(5);
    expect(run.failing).toEqual([]);
    expect(
      run.reports(2, (s) => {
        s.contactor.closedN = 0;
      }).failing,
    ).toEqual(['pole-dropped-out/N']);
    expect(run.proofs).toEqual(['closed-p']);
  });
});
