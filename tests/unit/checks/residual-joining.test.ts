/** A plug that was live for less than a report, behind a voltmeter that reads nothing of it. */
import { describe, expect, it } from 'vitest';
import { residual } from '../../../src/checks/residual.js';
import { Run, Scene } from './build.js';

describe('a raft that joins as the train parts', () => {
  /** The bus comes up in the very report in which the train's contactors are first seen open. */
  const parting = (closedBefore: number, busV: number) => {
    const scene = new Scene().enter('joining-train');
    Object.assign(scene.train, { closedP: closedBefore, closedN: closedBefore, trainV: 0 });
    const run = new Run(residual, scene).reports(3);
    Object.assign(scene.enter('parting-train').train, { closedP: 0, closedN: 0, trainV: busV });
    return run.reports(5).proofs;
  };
  it('leaves a plug that a voltmeter at 0 V proves nothing of', () => {
    expect(parting(1, 700)).toEqual(['output-dead']);
  });
  it('says nothing of a plug that was not on that bus, or of a bus that stayed dead', () => {
    expect(parting(0, 700)).toEqual(['output-dead', 'plug-dead']);
    expect(parting(1, 59)).toEqual(['output-dead', 'plug-dead']);
  });
});
