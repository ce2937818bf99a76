/** Poles proven open without closing anything; welded ones named; nothing proven where nothing can be told. */
import { describe, expect, it } from 'vitest';
import { polesOpen } from '../../../src/checks/poles-open.js';
import { Run, Scene } from './build.js';

interface Truth {
  readonly weldedP?: boolean;
  readonly weldedN?: boolean;
  readonly auxLies?: boolean;
}
/** Opening from 720 V: P at 0, bleeder from 100 ms, N with the resistor from 500 ms. */
function opening(truth: Truth, reports: number, plugV = 720) {
  const scene = new Scene().charging(0, 'ramping-down');
  scene.volts('plug', plugV);
  const run = new Run(polesOpen, scene).reports(3);
  scene.enter('opening').order('contactorP', { closedP: false });
  let outputV = plugV;
  let outputNegativeV = -plugV / 2;
  let plugNegativeV = -plugV / 2;
  run.reports(reports, (s, k) => {
    const ms = (k + 1) * 50;
    const openP = ms >= 50;
    if (!truth.weldedP || truth.auxLies) s.contactor.closedP = openP ? 0 : 1;
    if (ms >= 100) s.bleeder.outputOn = 1;
    if (ms === 500) s.order('contactorN', { closedN: false });
    const openN = ms >= 550;
    if (ms >= 550 && (!truth.weldedN || truth.auxLies)) s.contactor.closedN = 0;
    if (ms >= 550) plugNegativeV += (-0.95 * plugV - plugNegativeV) * 0.8;
    outputV = truth.weldedP
      ? openN
        ? outputV * 0.9
        : plugV
      : ms >= 150
        ? outputV * Math.exp(-50 / 480)
        : outputV;
    outputNegativeV = openN && !truth.weldedN ? outputNegativeV * Math.exp(-50 / 200) : plugNegativeV;
    if (truth.weldedP && openN && !truth.weldedN) outputNegativeV = plugNegativeV + plugV - outputV;
    Object.assign(s.meter, {
      plugV,
      plugNegativeV,
      plugPositiveV: plugNegativeV + plugV,
      outputV,
      outputNegativeV,
      outputPositiveV: outputNegativeV + outputV,
    });
  });
  return run;
}

describe('opening', () => {
  it('proves P by the bleeder while N is still closed, then N by the resistor', () => {
    const halfway = opening({}, 9);
    expect(halfway.proofs).toEqual(['open-p']);
    const run = opening({}, 20);
    expect(run.proofs).toEqual(['open-p', 'open-n']);
    expect(run.failing).toEqual([]);
  });
  it('names a welded P, by its auxiliary and, when that lies, by volts', () => {
    const honest = opening({ weldedP: true }, 9);
    expect(honest.failing).toEqual(['pole-welded/P']);
    expect(honest.proofs).toEqual([]);
    const lying = opening({ weldedP: true, auxLies: true }, 9);
    expect(lying.failing).toEqual(['pole-welded/P']);
    expect(lying.finding('pole-welded', 'P').unit).toBe('V');
    expect(lying.proofs).toEqual([]);
  });
  it('names a welded N likewise, and still proves P', () => {
    for (const auxLies of [false, true]) {
      const run = opening({ weldedN: true, auxLies }, 30);
      expect(run.failing).toEqual(['pole-welded/N']);
      expect(run.proofs).toEqual(['open-p']);
    }
  });
  it('proves nothing without a voltage to tell by, and accuses nobody', () => {
    const run = opening({}, 30, 0);
    expect(run.proofs).toEqual([]);
    expect(run.failing).toEqual([]);
  });
  it('does not take a dead plug voltmeter for an open pole', () => {
    const run = opening({ weldedP: true, auxLies: true }, 2);
    run.reports(10, (s) => {
      s.bleeder.outputOn = 1;
      s.volts('output', 720);
      Object.assign(s.meter, { plugV: 0, plugPositiveV: 0, plugNegativeV: 0 });
    });
    expect(run.proofs).toEqual([]);
    // Nor one whose poles and sum contradict each other.
    run.reports(10, (s) => Object.assign(s.meter, { plugV: 720, plugPositiveV: 0, plugNegativeV: 0 }));
    expect(run.proofs).toEqual([]);
  });
  it('needs fresh auxiliaries for every proof', () => {
    const run = opening({}, 20);
    expect(run.tick(run.scene.rig.link.fastReadingMs + 1).proofs).toEqual([]);
  });
});

describe('at rest', () => {
  it('proves poles never ordered closed by their auxiliaries', () => {
    const run = new Run(polesOpen, new Scene().enter('making-safe')).reports(2);
    expect(run.proofs).toEqual(['open-p', 'open-n']);
    expect(
      run.reports(1, (s) => {
        s.contactor.closedP = 1;
      }).proofs,
    ).toEqual(['open-n']);
    expect(
      run.reports(1, (s) => {
        s.contactor.closedN = Number.NaN;
      }).proofs,
    ).toEqual([]);
  });
  it('finds a welded N whose auxiliary lies when the train brings its voltage', () => {
    const scene = new Scene().enter('joining-train');
    Object.assign(scene.meter, { plugV: 720, plugPositiveV: 360, plugNegativeV: -360 });
    const sound = new Run(polesOpen, scene).reports(5);
    expect(sound.failing).toEqual([]);
    const run = sound.reports(3, (s) =>
      Object.assign(s.meter, { outputNegativeV: -360, outputPositiveV: -360 }),
    );
    expect(run.failing).toEqual(['pole-welded/N']);
    expect(run.proofs).toEqual(['open-p']);
  });
});

describe('making safe', () => {
  it('waits for the device’s own sequence before it accuses a pole', () => {
    const scene = new Scene().charging(200);
    const run = new Run(polesOpen, scene).reports(3);
    scene.enter('making-safe').order('makeSafe', { closedP: false, closedN: false });
    expect(run.reports(4).failing).toEqual([]);
    expect(run.reports(4).failing).toEqual(['pole-welded/P']);
    expect(run.reports(4).failing).toEqual(['pole-welded/P', 'pole-welded/N']);
  });
});
