/**
 * The train's contactors: confirmed closed, proven open by auxiliary and by the plug leaving the train's volts.
 *
 * On the depot they have 60 ms to close and 40 ms to open, and two reports and 50 ms for the answer. Make-safe asks
 * them open 100 ms + 200 ms + 200 ms after it was sent. An open plug loses its volts through 10 MΩ from pole to pole
 * and 10 MΩ with 10 MΩ from each pole to chassis, 5 MΩ in all, on 1 µF: a fifth of 5 s, and a slow reading of 2 s.
 */
import { describe, expect, it } from 'vitest';
import { trainContactors } from '../../../src/checks/train-contactors.js';
import { PHASES, type Phase } from '../../../src/rig/roles.js';
import { depot, Run, Scene } from './build.js';
import { PartialScene } from './partial-scene.js';

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

const CLOSE_MS = 60 + 150;
const OPEN_MS = 40 + 150;
const SHOWS_MS = 1000 + 2000;
const MAKE_SAFE_MS = 500;

const ordered = <S extends Scene>(scene: S) => {
  scene.enter('joining-train').order('train', { trainClosed: true });
  return new Run(trainContactors, scene);
};
/** Asked open a second after it was closed; the auxiliaries and the volts of both sides from then on. */
function opened(aux: readonly [number, number], trainV: number, plugV: number, scene: Scene = new Scene()) {
  scene.charging(0, 'opening');
  const run = new Run(trainContactors, scene).reports(20);
  scene.enter('parting-train').order('train', { trainClosed: false });
  Object.assign(scene.train, { closedP: aux[0], closedN: aux[1], trainV });
  scene.volts('plug', plugV);
  return run;
}
/** Charging, then make-safe, with the auxiliaries and the plug from then on. */
function madeSafe(closed: number, plugV: number) {
  const scene = new Scene().charging(200);
  const run = new Run(trainContactors, scene).reports(20);
  scene.enter('making-safe').order('makeSafe', { trainClosed: false });
  Object.assign(scene.train, { closedP: closed, closedN: closed });
  scene.volts('plug', plugV);
  return run;
}

describe('a train that hangs on by one pole while its auxiliary says open', () => {
  const V = depot.plausibility.voltageV;
  /** Both sides bled after make-safe, the plug's poles standing at these volts to chassis. */
  function bled(positiveV: number, negativeV: number, trainV = 690) {
    const run = madeSafe(0, 600);
    run.scene.train.trainV = trainV;
    run.burst(1, 600).burst(4, 50);
    Object.assign(run.scene.volts('plug', positiveV - negativeV).meter, {
      plugPositiveV: positiveV,
      plugNegativeV: negativeV,
    });
    return run.reports(2);
  }
  it('is held off chassis by the train’s leakage, and nothing is proven open', () => {
    expect(bled(-9, -20).proofs).toEqual([]);
    expect(bled(20, 9).proofs).toEqual([]);
    expect(bled(0, -V - 0.1).proofs).toEqual([]);
    expect(bled(Number.NaN, 0).proofs).toEqual([]);
  });
  it('is told from an open one, which goes to nothing', () => {
    expect(bled(0, -V).proofs).toEqual(['train-open']);
    expect(bled(0, 0).proofs).toEqual(['train-open']);
  });
  it('has nothing to lend while its bus is dead', () => {
    expect(bled(-9, -20, 60).proofs).toEqual(['train-open']);
    expect(bled(-9, -20, 61).proofs).toEqual([]);
  });
});

describe('closing', () => {
  it.each([
    [0, 0, 0],
    [1, 0, 0],
    [0, 1, 0],
    [Number.NaN, 1, Number.NaN],
    [1, Number.NaN, Number.NaN],
  ])(
    'with auxiliaries at %s and %s is late after its time, in the second sample',
    (closedP, closedN, reading) => {
      const run = ordered(new Scene());
      Object.assign(run.scene.train, { closedP, closedN });
      run.burst(1, CLOSE_MS).burst(1, 1);
      expect(run.failing).toEqual([]);
      expect(run.tick(1).failing).toEqual([]);
      expect(run.burst(1, 1).failing).toEqual(['train-contactor-not-closed']);
      expect(run.finding('train-contactor-not-closed')).toMatchObject({
        ...{ reading, limit: 1, unit: '', setting: 'contactors.closeMs', sinceMs: run.scene.nowMs - 2 },
      });
      expect(run.proofs).toEqual([]);
    },
  );
  it('is proven by two samples of both auxiliaries that came after the order', () => {
    const run = ordered(new Scene());
    Object.assign(run.scene.train, { closedP: 1, closedN: 1 });
    expect(run.reports(1).proofs).toEqual([]);
    expect(run.tick(10).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['train-closed']);
    // One odd sample takes it away, and two are asked for again.
    for (const odd of [0, Number.NaN]) {
      run.reports(1, (s) => Object.assign(s.train, { closedN: odd }));
      expect(run.proofs).toEqual([]);
      run.scene.train.closedN = 1;
      expect(run.reports(1).proofs).toEqual([]);
      expect(run.reports(1).proofs).toEqual(['train-closed']);
    }
    expect(run.failing).toEqual([]);
  });
  it('is not proven by auxiliaries read before the order', () => {
    const scene = new Scene().enter('joining-train');
    Object.assign(scene.train, { closedP: 1, closedN: 1 });
    const run = new Run(trainContactors, scene).reports(3);
    expect(run.proofs).toEqual([]);
    scene.order('train', { trainClosed: true });
    expect(run.tick(10).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['train-closed']);
  });
  it('stands on fresh readings only, and on what was last read', () => {
    const run = joining(1);
    run.scene.frozen.add('train');
    const { slowReadingMs, periodMs } = depot.link;
    expect(run.reports(slowReadingMs / periodMs).proofs).toEqual(['train-closed']);
    expect(run.reports(1).proofs).toEqual([]);
    const moved = joining(1);
    moved.scene.frozen.add('train');
    moved.scene.train.closedP = 0;
    expect(moved.reports(1).proofs).toEqual([]);
  });
  it('is not asked for by make-safe', () => {
    const run = joining(1);
    run.scene.enter('tripped-ramping-down');
    run.scene.train.closedP = 0;
    expect(run.reports(2).failing).toEqual(['train-contactor-not-closed']);
    // The device opens them in its own time, whatever was ordered before.
    run.scene.order('makeSafe');
    expect(run.reports(5).failing).toEqual([]);
    run.scene.enter('making-safe');
    run.reports(1);
    expect(run.last.findings.map((f) => f.code)).toEqual(['train-contactor-welded']);
  });
});

describe('opening, by auxiliary', () => {
  it.each([
    [1, 0, 'P'],
    [0, 1, 'N'],
    [1, 1, 'both'],
    [1, Number.NaN, 'P'],
    [Number.NaN, 1, 'N'],
    [Number.NaN, 0, 'both'],
  ])('%s and %s is welded after its time, in the second sample', (closedP, closedN, part) => {
    const run = opened([closedP, closedN], 720, 700).burst(1, OPEN_MS).burst(1, 1);
    expect(run.failing).toEqual([]);
    expect(run.burst(1, 1).failing).toEqual([`train-contactor-welded/${part}`]);
    expect(run.finding('train-contactor-welded')).toMatchObject({
      ...{ reading: 700, limit: 60, unit: 'V', setting: 'bleeder.safeV', sinceMs: run.scene.nowMs - 1 },
    });
    expect(run.proofs).toEqual([]);
    Object.assign(run.scene.train, { closedP: 0, closedN: 0 });
    expect(run.reports(1).failing).toEqual([]);
  });
  it('is given make-safe’s own sequence', () => {
    const run = madeSafe(1, 700)
      .burst(1, MAKE_SAFE_MS + OPEN_MS)
      .burst(1, 1);
    expect(run.failing).toEqual([]);
    expect(run.burst(1, 1).failing).toEqual(['train-contactor-welded/both']);
  });
  it('accuses no train that was never asked closed, and proves it open by two samples at rest', () => {
    const scene = new Scene().enter('making-safe').order('makeSafe');
    const run = new Run(trainContactors, scene).reports(1);
    expect(run.proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['train-open']);
    for (const odd of [1, Number.NaN]) {
      run.reports(40, (s) => Object.assign(s.train, { closedP: odd }));
      expect(run.last.findings).toEqual([]);
      expect(run.proofs).toEqual([]);
      scene.train.closedP = 0;
      expect(run.reports(1).proofs).toEqual([]);
      expect(run.reports(1).proofs).toEqual(['train-open']);
    }
    scene.frozen.add('train');
    scene.train.closedN = 1;
    expect(run.reports(1).proofs).toEqual([]);
  });
});

describe('opening, by volts', () => {
  it.each([
    ['10 V below the train', 600, 590, true],
    ['less than that', 600, 590.1, false],
    ['above the train', 600, 620, false],
    ['1.5 % below a train at 720 V', 720, 709, true],
    ['10.5 V below it, which is less', 720, 709.5, false],
    ['both safe to touch', 60, 60, true],
    ['a train just above that', 60.1, 60, false],
    ['a plug just above that', 60, 60.1, false],
    ['a dead train and a live plug', 0, 600, false],
    ['a plug that cannot be read', 600, Number.NaN, false],
    ['a train that cannot be read', Number.NaN, 0, false],
  ])('%s: %s V and %s V, proven: %s', (_, trainV, plugV, proven) => {
    const run = opened([0, 0], trainV, plugV).reports(1);
    expect(run.proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(proven ? ['train-open'] : []);
    // What cannot be told open is accused in its time, and what was told open is not.
    run.reports((SHOWS_MS + 200) / depot.link.periodMs);
    expect(run.failing).toEqual(proven ? [] : ['train-contactor-welded/both']);
  });
  it('has the time the plug takes through its leakage, then two samples', () => {
    const run = opened([0, 0], 720, 720).burst(1, SHOWS_MS).burst(1, 1);
    expect(run.failing).toEqual([]);
    expect(run.tick(1).failing).toEqual([]);
    expect(run.burst(1, 1).failing).toEqual(['train-contactor-welded/both']);
    expect(run.finding('train-contactor-welded')).toMatchObject({
      reading: 720,
      sinceMs: run.scene.nowMs - 2,
    });
    expect(run.proofs).toEqual([]);
    const after = madeSafe(0, 720)
      .burst(1, MAKE_SAFE_MS + SHOWS_MS)
      .burst(1, 1);
    expect(after.failing).toEqual([]);
    expect(after.burst(1, 1).failing).toEqual(['train-contactor-welded/both']);
  });
  it('counts from when the train is asked open, by make-safe too', () => {
    const run = madeSafe(0, 0).burst(1, MAKE_SAFE_MS - 1);
    expect(run.burst(1, 1).proofs).toEqual([]);
    expect(run.burst(1, 1).proofs).toEqual(['train-open']);
  });
  it('counts no sample twice, none against a closed auxiliary, and only such as follow each other', () => {
    const run = opened([0, 0], 600, 590).reports(1);
    run.scene.frozen.add('meter');
    expect(run.reports(3).proofs).toEqual([]);
    run.scene.frozen.clear();
    expect(run.reports(1, (s) => s.volts('plug', 600)).proofs).toEqual([]);
    expect(run.reports(1, (s) => s.volts('plug', 590)).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['train-open']);
    const closed = opened([0, 1], 600, 590).reports(3);
    closed.scene.train.closedN = 0;
    closed.scene.frozen.add('meter');
    expect(closed.reports(3).proofs).toEqual([]);
    closed.scene.frozen.clear();
    expect(closed.reports(1).proofs).toEqual([]);
    expect(closed.reports(1).proofs).toEqual(['train-open']);
  });
  it('proves nothing without a meter', () => {
    const scene = new PartialScene();
    scene.missing.add('meter');
    const run = opened([0, 0], 600, 0, scene).reports(100);
    expect(run.proofs).toEqual([]);
    expect(run.finding('train-contactor-welded').reading).toBeNaN();
  });
  it('keeps the proof, not against volts that come back to the train’s, and starts anew when asked closed', () => {
    const run = opened([0, 0], 600, 590).reports(2);
    expect(run.reports(10, (s) => s.volts('plug', 600)).proofs).toEqual(['train-open']);
    run.reports(SHOWS_MS / depot.link.periodMs);
    expect(run.failing).toEqual(['train-contactor-welded/both']);
    expect(run.proofs).toEqual([]);
    expect(run.reports(1, (s) => s.volts('plug', 0)).proofs).toEqual(['train-open']);
    run.scene.order('train', { trainClosed: true }).volts('plug', 600);
    run.reports(3);
    expect(run.finding('train-contactor-welded').failing).toBe(false);
    run.scene.order('train', { trainClosed: false });
    expect(run.reports(3).proofs).toEqual([]);
  });
});

it('speaks from the start of a session to its end, and forgets everything elsewhere', () => {
  const silent: readonly Phase[] = ['parked', 'released'];
  for (const phase of PHASES) {
    const run = joining(1);
    run.scene.enter(phase);
    run.reports(1);
    if (!silent.includes(phase)) expect(run.proofs, phase).toEqual(['train-closed']);
    else expect(run.last, phase).toEqual({ state: trainContactors.initial(depot), findings: [] });
  }
  const scene = new PartialScene();
  const run = ordered(scene).reports(2);
  scene.missing.add('train');
  expect(run.reports(1).last).toEqual({ state: trainContactors.initial(depot), findings: [] });
});

it('is not proven open after make-safe by auxiliaries read before it', () => {
  const run = new Run(trainContactors, new Scene().enter('securing')).reports(4);
  expect(run.proofs).toEqual(['train-open']);
  run.scene.enter('making-safe').order('makeSafe');
  for (const role of ['train'] as const) run.scene.frozen.add(role);
  expect(run.reports(1).proofs).toEqual([]);
  run.scene.frozen.clear();
  expect(run.reports(1).proofs).toEqual(['train-open']);
});
