/** The train's contactors: confirmed closed, proven open by auxiliary and by the plug leaving the train's volts. */
import { describe, expect, it } from 'vitest';
import { trainContactors } from '../../../src/checks/train-contactors.js';
import { Run, Scene } from './build.js';

function joining(aux: number) {
  const scene = new Scene().enter('joining-train').order('train', { trainClosed: true });
  return new Run(trainContactors, scene)
    .reports(2)
    .reports(6, (s) => Object.assign(s.train, { closedP: aux, closedN: aux }));
}
function parting(edit: (s: Scene, k: number) => void, reports: number) {
  const scene = new Scene().charging(0, 'opening');
  const run = new Run(trainContactors, scene).reports(3);
  scene.enter('parting-train').order('train', { trainClosed: false });
  return run.reports(reports, edit);
}
const falling = (s: Scene, k: number): void => {
  Object.assign(s.train, { closedP: 0, closedN: 0 });
  s.volts('plug', 720 * Math.exp(-((k + 1) * 50) / 5000));
};

describe('train contactors', () => {
  it('are proven closed by both auxiliaries', () => {
    expect(joining(1).proofs).toEqual(['train-closed']);
    expect(joining(0).failing).toEqual(['train-contactor-not-closed']);
  });
  it('are proven open once the plug leaves the train’s voltage', () => {
    expect(parting(falling, 1).proofs).toEqual([]);
    const run = parting(falling, 5);
    expect(run.proofs).toEqual(['train-open']);
    expect(run.failing).toEqual([]);
  });
  it('are not proven open by auxiliaries alone', () => {
    const run = parting((s) => Object.assign(s.train, { closedP: 0, closedN: 0 }), 20);
    expect(run.proofs).toEqual([]);
  });
  it('are welded when an auxiliary stays closed, and the pole is named', () => {
    const run = parting((s) => Object.assign(s.train, { closedP: 0, closedN: 1 }), 8);
    expect(run.failing).toEqual(['train-contactor-welded/N']);
  });
  it('are welded, too, when they say open and the plug stays on the train', () => {
    const run = parting((s) => Object.assign(s.train, { closedP: 0, closedN: 0 }), 70);
    expect(run.failing).toEqual(['train-contactor-welded/both']);
    expect(run.proofs).toEqual([]);
  });
  it('were never asked closed: open at rest by auxiliary', () => {
    expect(new Run(trainContactors, new Scene().enter('making-safe')).reports(2).proofs).toEqual([
      'train-open',
    ]);
  });
  it('drop out under current: named', () => {
    const run = new Run(trainContactors, new Scene().charging(200)).reports(3);
    expect(run.failing).toEqual([]);
    expect(
      run.reports(2, (s) => {
        s.train.closedP = 0;
      }).failing,
    ).toEqual(['train-contactor-not-closed']);
  });
});
