/** Both sides bled: proofs, deadlines, a bleeder that is dead and a side that is fed. */
import { describe, expect, it } from 'vitest';
import { allowedMs, residual } from '../../../src/checks/residual.js';
import { depot, Run, Scene } from './build.js';

const tauMs = 1000 * depot.bleeder.plugOhm * depot.connection.cable.capacitanceF;

function bleeding(plugAt: (ms: number) => number, reports: number, trainV = 0) {
  const scene = new Scene().charging(0, 'parting-train');
  scene.volts('output', 0).converter.outputV = 0;
  const run = new Run(residual, scene).reports(4);
  Object.assign(scene.train, { closedP: 0, closedN: 0, trainV });
  scene
    .order('train', { trainClosed: false })
    .enter('bleeding')
    .order('bleeder', { bleedPlug: true, bleedOutput: true });
  run.reports(reports, (s, k) => {
    s.bleeder.plugOn = 1;
    const before = plugAt(k * 50);
    s.volts('plug', plugAt((k + 1) * 50));
    s.meter.plugMaxV = before;
  });
  return run;
}

describe('bleeding', () => {
  it('proves the plug dead by a fall within a report', () => {
    const run = bleeding((ms) => 720 * Math.exp(-ms / tauMs), 12);
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual(['output-dead', 'plug-dead']);
  });
  it('names a dead bleeder within its own time, and takes a late death for none', () => {
    const natural = (ms: number): number => 720 * Math.exp(-ms / 2500);
    const dueMs = allowedMs(new Scene().rig, 'plug');
    expect(dueMs).toBeLessThan(1000);
    expect(bleeding(natural, Math.floor(dueMs / 50)).failing).toEqual([]);
    expect(bleeding(natural, Math.ceil(dueMs / 50) + 2).failing).toEqual(['plug-not-dead']);
    expect(bleeding(natural, 200).proofs).toEqual(['output-dead']);
  });
  it('says when the train feeds the side being bled', () => {
    expect(bleeding(() => 720, Math.ceil((10 * tauMs) / 50) + 4, 720).failing).toContain(
      'bleeder-aborted/plug',
    );
  });
  it('calls a voltmeter unproven that went dead', () => {
    const run = bleeding((ms) => (ms < 0 ? 720 : 0), 6);
    expect(run.failing).toEqual(['voltmeter-unproven/plug']);
    expect(run.proofs).toEqual(['output-dead']);
  });
  it('lets the isolation device contradict, where it sits on the plug', () => {
    const run = bleeding((ms) => 720 * Math.exp(-ms / tauMs), 12);
    run.reports(1, (s) => Object.assign(s.isolation, { point: 3, positiveV: 300, negativeV: -300 }));
    expect(run.proofs).toEqual(['output-dead']);
  });
});

describe('elsewhere', () => {
  it('proves cold sides dead, with fresh readings only', () => {
    const run = new Run(residual, new Scene().enter('securing')).reports(3);
    expect(run.proofs).toEqual(['output-dead', 'plug-dead']);
    expect(run.tick(run.scene.rig.link.fastReadingMs + 1).proofs).toEqual([]);
  });
  it('gives make-safe the time of the device’s sequence before the deadline runs', () => {
    const scene = new Scene().charging(100);
    const run = new Run(residual, scene).reports(2);
    scene.enter('making-safe').order('makeSafe');
    // Nothing falls here: the output is accused first, the plug once its own time has run from its own start.
    const startMs = 1000 * 0.58;
    const dueMs = startMs + allowedMs(depot, 'plug');
    expect(run.reports(8).failing).toEqual([]);
    expect(run.reports(Math.floor(dueMs / 50) - 9).failing).not.toContain('plug-not-dead');
    expect(run.reports(4).failing).toContain('plug-not-dead');
  });
});
