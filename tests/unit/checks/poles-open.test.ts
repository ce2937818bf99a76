/**
 * Poles proven open without closing anything; welded ones named; nothing proven where nothing can be told.
 *
 * On the depot volts across a contact count from 15 V, three times what two voltmeters may differ. A pole asked
 * open has 40 ms, and two reports and 50 ms for the answer: 190 ms. Make-safe opens P within 100 ms, N 200 ms later.
 */
import { describe, expect, it } from 'vitest';
import { polesOpen } from '../../../src/checks/poles-open.js';
import { depot, Run, Scene } from './build.js';
import { across, asked, LATE_MS, POLES, proofOf } from './poles.js';

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

describe.each(POLES)('%s by its auxiliary', (pole, group, key) => {
  it('has its time from its own order, then two samples', () => {
    const run = asked(pole, 720, 1, new Scene()).burst(1, LATE_MS).burst(1, 1);
    expect(run.failing).toEqual([]);
    expect(run.tick(1).failing).toEqual([]);
    expect(run.burst(1, 1).failing).toEqual([`pole-welded/${pole}`]);
    expect(run.finding('pole-welded', pole)).toMatchObject({
      ...{ reading: 1, limit: 0, unit: '', setting: 'contactors.openMs', sinceMs: run.scene.nowMs - 2 },
    });
    // It opened late after all.
    run.scene.contactor[key] = 0;
    expect(run.reports(1).failing).toEqual([]);
  });
  it('is welded, too, when the auxiliary cannot be read, and not while its counter stands', () => {
    const run = asked(pole, 720, Number.NaN, new Scene());
    // Its volts are another matter: here they are not heard at all.
    run.scene.frozen.add('contactor').add('meter');
    expect(run.reports(20).failing).toEqual([]);
    run.scene.frozen.delete('contactor');
    expect(run.reports(2).failing).toEqual([`pole-welded/${pole}`]);
    expect(run.finding('pole-welded', pole).reading).toBeNaN();
  });
  it('is given make-safe’s own sequence, whether it was ever closed or not', () => {
    const opensMs = pole === 'P' ? 100 : 300;
    for (const ever of [true, false]) {
      const scene = new Scene();
      if (ever) scene.charging(200);
      const run = new Run(polesOpen, scene).reports(3);
      scene.enter('making-safe').order('makeSafe', { closedP: false, closedN: false });
      Object.assign(scene.contactor, { closedP: 0, closedN: 0 });
      scene.contactor[key] = 1;
      expect(run.burst(1, opensMs + LATE_MS).burst(1, 1).failing).toEqual([]);
      expect(run.burst(1, 1).failing).toEqual([`pole-welded/${pole}`]);
    }
  });
  it('asked open before make-safe has no more time for that', () => {
    const run = asked(pole, 720, 1, new Scene()).burst(1, 100);
    run.scene.enter('making-safe').order('makeSafe', { closedP: false, closedN: false });
    expect(run.burst(1, LATE_MS - 100).burst(1, 1).failing).toEqual([]);
    expect(run.burst(1, 1).failing).toEqual([`pole-welded/${pole}`]);
  });
  it('starts anew when it is ordered closed again', () => {
    const run = asked(pole, 720, 0, new Scene()).reports(2, (s) => across(s, pole, 15));
    expect(run.proofs).toEqual([proofOf(pole)]);
    run.scene.order(group, { [key]: true });
    run.scene.contactor[key] = 1;
    run.reports(1, (s) => across(s, pole, 0));
    run.scene.order(group, { [key]: false });
    run.scene.contactor[key] = 0;
    expect(run.reports(3).proofs).toEqual([]);
  });
});

describe.each(POLES)('%s proven open by volts', (pole, _, key) => {
  /** Reports it takes, up to ten, until the pole is proven open; null: it is not. */
  const takes = (edit: (s: Scene, k: number) => void, plugV = 720, aux = 0): number | null => {
    const run = asked(pole, plugV, aux, new Scene());
    for (let k = 1; k <= 10; k++) if (run.reports(1, (s) => edit(s, k)).proofs.length > 0) return k;
    return null;
  };
  it('takes 15 V across it, twice, with its auxiliary open', () => {
    expect(takes((s) => across(s, pole, 15))).toBe(2);
    expect(takes((s) => across(s, pole, -15))).toBe(2);
    expect(takes((s) => across(s, pole, 14.9))).toBe(null);
    expect(takes((s) => across(s, pole, 15), 720, 1)).toBe(null);
    expect(takes((s) => across(s, pole, 15), 720, Number.NaN)).toBe(null);
    expect(takes((s, k) => across(s, pole, k % 2 === 0 ? 15 : 0))).toBe(null);
  });
  it('counts no volts against a closed auxiliary', () => {
    const run = asked(pole, 720, 1, new Scene()).reports(2, (s) => across(s, pole, 15));
    run.scene.contactor[key] = 0;
    expect(run.reports(1).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual([proofOf(pole)]);
  });
  it('counts no sample twice', () => {
    const run = asked(pole, 720, 0, new Scene()).reports(1, (s) => across(s, pole, 15));
    run.scene.frozen.add('meter');
    expect(run.reports(3).proofs).toEqual([]);
    run.scene.frozen.clear();
    expect(run.reports(1).proofs).toEqual([proofOf(pole)]);
  });
  it.each([
    ['three tenths of 720 V before', 720, 216],
    ['what is safe to touch, where the plug stood lower', 100, 60],
  ])('asks the plug side to hold %s', (_what, beforeV, heldV) => {
    expect(takes((s) => across(s, pole, 20, heldV), beforeV)).toBe(2);
    expect(takes((s) => across(s, pole, 20, heldV - 0.1), beforeV)).toBe(null);
  });
  it('remembers the last plug voltage that could be read before it was asked', () => {
    const scene = new Scene().charging(0, 'ramping-down');
    const run = new Run(polesOpen, scene).reports(3, (s) => across(s, pole, 0, 720));
    scene.meter.plugV = Number.NaN;
    run.reports(1);
    scene.frozen.add('meter');
    scene.meter.plugV = 100;
    run.reports(1);
    scene.frozen.clear();
    scene.enter('opening').order(pole === 'P' ? 'contactorP' : 'contactorN', { [key]: false });
    scene.contactor[key] = 0;
    expect(run.reports(4, (s) => across(s, pole, 20, 215)).proofs).toEqual([]);
    expect(run.reports(2, (s) => across(s, pole, 20, 216)).proofs).toEqual([proofOf(pole)]);
  });
  it.each(['outputV', 'plugV'] as const)('wants poles and sum to agree in %s: 3 %%, at least 10 V', (sum) => {
    const off = (byV: number, plugV: number) => (s: Scene) => {
      across(s, pole, 15, plugV);
      s.meter[sum] += byV;
    };
    // 3 % of 720 V is 21.6 V; of 300 V it would be 9 V.
    for (const sign of [1, -1]) {
      expect(takes(off(sign * 20, 720))).toBe(2);
      expect(takes(off(sign * 23, 720))).toBe(null);
      expect(takes(off(sign * 10, 300), 300)).toBe(2);
      expect(takes(off(sign * 10.5, 300), 300)).toBe(null);
    }
    expect(takes(off(Number.NaN, 720))).toBe(null);
  });
  it('stands once had, as long as the auxiliary is fresh and open', () => {
    const run = asked(pole, 720, 0, new Scene()).reports(2, (s) => across(s, pole, 15));
    expect(run.reports(20, (s) => across(s, pole, 0, 0)).proofs).toEqual([proofOf(pole)]);
    run.scene.frozen.add('contactor');
    const inTime = depot.link.fastReadingMs / depot.link.periodMs;
    expect(run.reports(inTime).proofs).toEqual([proofOf(pole)]);
    expect(run.reports(1).proofs).toEqual([]);
    run.scene.frozen.clear();
    run.scene.contactor[key] = 1;
    expect(run.reports(1).proofs).toEqual([]);
  });
  it('is told of a pole the device opened of its own accord', () => {
    const scene = new Scene().charging(0);
    const run = new Run(polesOpen, scene).reports(3);
    scene.contactor[key] = 0;
    expect(run.reports(2, (s) => across(s, pole, 15)).proofs).toEqual([proofOf(pole)]);
    // Volts alone, against the auxiliary, say nothing of a pole ordered closed.
    scene.contactor[key] = 1;
    expect(run.reports(3).proofs).toEqual([]);
    expect(run.failing).toEqual([]);
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

it('is not proven open after make-safe by an auxiliary read before it: it may have closed since', () => {
  const run = new Run(polesOpen, new Scene().enter('securing')).reports(4);
  expect(run.proofs).toEqual(['open-p', 'open-n']);
  run.scene.enter('making-safe').order('makeSafe');
  for (const role of ['contactor'] as const) run.scene.frozen.add(role);
  expect(run.reports(1).proofs).toEqual([]);
  run.scene.frozen.clear();
  expect(run.reports(1).proofs).toEqual(['open-p', 'open-n']);
});
