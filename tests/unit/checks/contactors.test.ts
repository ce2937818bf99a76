/**
 * Closing by auxiliary and by volts; auxiliaries that lie; poles that fall open. On the depot a contactor has 60 ms,
 * and two reports and 50 ms for the answer: 210 ms from the order.
 */
import { describe, expect, it } from 'vitest';
import { contactors } from '../../../src/checks/contactors.js';
import { PHASES } from '../../../src/rig/roles.js';
import { depot, Run, Scene, yard } from './build.js';
import { PartialScene } from './partial-scene.js';

const { fastReadingMs, periodMs } = depot.link;
const CONTACTS = [
  ['P', 'contactorP', 'closedP'],
  ['N', 'contactorN', 'closedN'],
  ['pre', 'pre', 'closedPre'],
] as const;

function closing<S extends Scene>(scene: S) {
  scene.charging(0, 'closing');
  Object.assign(scene.contactor, { closedP: 0, closedN: 0 });
  scene.order('contactorP', { closedP: true }).order('contactorN', { closedN: false });
  scene.converter.appliedLimitV = 720;
  return new Run(contactors, scene);
}
function bothClosed(scene: Scene = new Scene()) {
  const run = closing(scene).reports(2);
  scene.order('contactorN', { closedN: true });
  return run.reports(2, (s) => Object.assign(s.contactor, { closedP: 1, closedN: 1 }));
}
/** The converter pulls to this, from the next report on. */
function pulled(limitV: number, reports: number, run = bothClosed()) {
  run.scene.converter.appliedLimitV = limitV;
  return run.reports(reports);
}
/** 400 ms of pull from the first report that shows it, then the last of four samples. */
const PROVEN_AFTER = 1 + 400 / periodMs + 3;

describe('closing', () => {
  it.each(CONTACTS)('gives %s its time from its own order, then names it', (contact, group, key) => {
    const scene = new Scene(yard).enter('pre-charging').order(group, { [key]: true });
    const run = new Run(contactors, scene).burst(1, 210).burst(1, 1);
    expect(run.failing).toEqual([]);
    expect(run.burst(1, 1).failing).toEqual([`pole-not-closed/${contact}`]);
    expect(run.finding('pole-not-closed', contact)).toMatchObject({
      reading: 212,
      limit: 60,
      unit: 'ms',
      setting: 'contactors.closeMs',
      sinceMs: scene.nowMs - 1,
    });
    expect(run.proofs).toEqual([]);
    // It came late, and is believed.
    scene.contactor[key] = 1;
    expect(run.reports(1).failing).toEqual([]);
  });
  it('needs two new samples to accuse: a counter that stands accuses nobody', () => {
    const run = closing(new Scene());
    run.scene.frozen.add('contactor');
    expect(run.tick(1).failing).toEqual([]);
    expect(run.reports(20).failing).toEqual([]);
  });
  it('accuses no pole that was not ordered, and speaks of the pre-charge only where there is one', () => {
    const parts = <S>(run: Run<S>) =>
      run.last.findings.filter((f) => f.code === 'pole-not-closed').map((f) => [f.part, f.reading]);
    const idle = (rig = depot) => new Run(contactors, new Scene(rig).enter('closing')).reports(20);
    expect(idle().failing).toEqual([]);
    expect(parts(idle())).toEqual([
      ['P', 0],
      ['N', 0],
    ]);
    expect(parts(idle(yard))).toEqual([
      ['P', 0],
      ['N', 0],
      ['pre', 0],
    ]);
  });
  it('confirms each pole by its auxiliary, and both by nothing yet', () => {
    expect(bothClosed().proofs).toEqual(['closed-p', 'closed-n']);
    for (const [key, proofs] of [
      ['closedP', ['closed-n']],
      ['closedN', ['closed-p']],
    ] as const)
      for (const odd of [0, Number.NaN])
        expect(bothClosed().reports(1, (s) => Object.assign(s.contactor, { [key]: odd })).proofs).toEqual(
          proofs,
        );
  });
  it('takes an auxiliary that reads closed without an order for no proof', () => {
    const run = closing(new Scene()).reports(3, (s) =>
      Object.assign(s.contactor, { closedP: 1, closedN: 1 }),
    );
    expect(run.proofs).toEqual(['closed-p']);
    // Nor one that was read before the order and not since.
    run.scene.frozen.add('contactor');
    run.scene.order('contactorN', { closedN: true });
    expect(run.reports(1).proofs).toEqual(['closed-p']);
    run.scene.frozen.clear();
    expect(run.reports(1).proofs).toEqual(['closed-p', 'closed-n']);
  });
});

describe('both poles by volts', () => {
  it('takes equal volts without a pull for no proof at all', () => {
    expect(bothClosed().reports(100).proofs).not.toContain('poles-follow');
  });
  it.each([
    ['the whole probe', 728],
    ['half of it', 724],
  ])('proves the poles when the output stays down against %s, after 400 ms and four samples', (_, limitV) => {
    const run = pulled(limitV, PROVEN_AFTER - 1);
    expect(run.proofs).not.toContain('poles-follow');
    expect(run.reports(1).proofs).toEqual(['closed-p', 'closed-n', 'poles-follow']);
    expect(run.failing).toEqual([]);
  });
  it('takes less than half the probe, or a pull that cannot be read, for none', () => {
    for (const limitV of [723.9, Number.NaN])
      expect(pulled(limitV, 100).proofs).not.toContain('poles-follow');
    const blind = new PartialScene();
    blind.missing.add('converter');
    expect(pulled(728, 100, bothClosed(blind)).proofs).toEqual(['closed-p', 'closed-n']);
  });
  it('keeps the proof when the pull ends: the poles have been seen', () => {
    const run = pulled(728, PROVEN_AFTER);
    expect(pulled(720, 20, run).proofs).toContain('poles-follow');
  });
  it('takes a drop of 3 V for closed poles, and 3.1 V for none', () => {
    const run = pulled(728, PROVEN_AFTER);
    const lifted = (volts: number, reports: number) => run.reports(reports, (s) => s.volts('output', volts));
    expect(lifted(723, 6).proofs).toContain('poles-follow');
    expect(lifted(723.1, 1).proofs).not.toContain('poles-follow');
    // Four samples are asked for again.
    expect(lifted(720, 3).proofs).not.toContain('poles-follow');
    expect(lifted(720, 1).proofs).toContain('poles-follow');
    expect(run.failing).toEqual([]);
  });
  it('finds the pole whose auxiliary lies in the fourth sample that follows the pull', () => {
    const run = pulled(728, 1);
    run.reports(3, (s) => s.volts('output', 728));
    expect(run.failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['pole-volts-differ']);
    expect(run.finding('pole-volts-differ')).toMatchObject({
      reading: 8,
      limit: 3,
      unit: 'V',
      setting: 'contactors.closedDropV',
      sinceMs: run.scene.nowMs - 150,
    });
    expect(run.reports(20).proofs).toEqual(['closed-p', 'closed-n']);
  });
  it('lets reports that come in a burst settle for 150 ms all the same', () => {
    const run = pulled(728, 1);
    run.scene.volts('output', 728);
    expect(run.burst(15, 10).failing).toEqual([]);
    expect(run.burst(1, 10).failing).toEqual(['pole-volts-differ']);
  });
  it('wants the volts readable', () => {
    for (const key of ['outputV', 'plugV'] as const) {
      const run = pulled(728, 4);
      run.scene.meter[key] = Number.NaN;
      expect(run.reports(4).failing).toEqual(['pole-volts-differ']);
      expect(run.reports(20).proofs).not.toContain('poles-follow');
    }
  });
  it.each(['closedP', 'closedN'] as const)('starts anew when %s is no longer seen closed', (key) => {
    const run = pulled(728, PROVEN_AFTER);
    run.scene.volts('output', 728);
    run.scene.contactor[key] = 0;
    // Open, the two sides may well differ: that is for the auxiliary to name.
    expect(run.reports(10).failing).not.toContain('pole-volts-differ');
    run.scene.contactor[key] = 1;
    run.scene.volts('output', 720);
    expect(run.reports(PROVEN_AFTER - 1).proofs).not.toContain('poles-follow');
    expect(run.reports(1).proofs).toContain('poles-follow');
  });
  it.each(['closedP', 'closedN'] as const)('withholds it at once when %s opens before the meter', (key) => {
    const run = pulled(728, PROVEN_AFTER);
    run.scene.frozen.add('meter');
    run.scene.contactor[key] = 0;
    expect(run.reports(1).proofs).toEqual([key === 'closedP' ? 'closed-n' : 'closed-p']);
  });
  it('counts no sample of a meter twice, and does without one that is not there', () => {
    const run = pulled(728, PROVEN_AFTER - 1);
    run.scene.frozen.add('meter');
    expect(run.reports(4).proofs).not.toContain('poles-follow');
    const blind = new PartialScene();
    blind.missing.add('meter');
    const without = pulled(728, 20, bothClosed(blind));
    expect(without.proofs).toEqual(['closed-p', 'closed-n']);
    expect(without.finding('pole-volts-differ').reading).toBeNaN();
  });
  it('stands on fresh readings only, up to the deadline', () => {
    const proven = () => pulled(728, PROVEN_AFTER);
    const inTime = fastReadingMs / periodMs;
    const old = proven();
    old.scene.frozen.add('meter');
    expect(old.reports(inTime).proofs).toContain('poles-follow');
    expect(old.reports(1).proofs).toEqual(['closed-p', 'closed-n']);
    const blind = proven();
    blind.scene.frozen.add('contactor');
    expect(blind.reports(inTime).proofs).toHaveLength(3);
    expect(blind.reports(1).proofs).toEqual([]);
  });
});

describe('staying closed', () => {
  it.each(CONTACTS)('names %s when it drops out, in the second sample', (contact, group, key) => {
    for (const odd of [0, Number.NaN]) {
      const scene = new Scene(yard).enter('closing').order(group, { [key]: true });
      scene.contactor[key] = 1;
      const run = new Run(contactors, scene).reports(2);
      scene.contactor[key] = odd;
      expect(run.reports(1).failing).toEqual([]);
      expect(run.tick(100).failing).toEqual([]);
      expect(run.reports(1).failing).toEqual([`pole-dropped-out/${contact}`]);
      expect(run.finding('pole-dropped-out', contact)).toMatchObject({ reading: odd, limit: 1, unit: '' });
      // It was closed: that it did not close in time is not what is wrong, however long it takes.
      expect(run.reports(10).failing).toEqual([`pole-dropped-out/${contact}`]);
      // Ordered open it may be open, and closes anew within a time of its own.
      scene.order(group, { [key]: false });
      expect(run.reports(2).failing).toEqual([]);
      scene.order(group, { [key]: true });
      expect(run.reports(4).failing).toEqual([]);
    }
  });
  it('speaks from pre-charging until the current is down, after a trip too, and forgets elsewhere', () => {
    const speaking = [
      ...['pre-charging', 'closing', 'ramping', 'holding', 'tapering', 'ramping-down'],
      'tripped-ramping-down',
    ];
    for (const phase of PHASES) {
      const run = bothClosed();
      run.scene.enter(phase);
      run.reports(3, (s) => Object.assign(s.contactor, { closedP: 0, closedN: 0 }));
      const drops = ['pole-dropped-out/P', 'pole-dropped-out/N'];
      expect(run.failing, phase).toEqual(speaking.includes(phase) ? drops : []);
      if (speaking.includes(phase)) continue;
      expect(run.last.findings, phase).toEqual([]);
      expect(run.state, phase).toEqual(contactors.initial(depot));
    }
  });
  it('says nothing of contactors it has never heard of', () => {
    const scene = new PartialScene();
    const run = bothClosed(scene);
    scene.missing.add('contactor');
    expect(run.reports(20).last).toEqual({ state: contactors.initial(depot), findings: [] });
  });
});
