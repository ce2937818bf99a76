/** A generator raft must stand still. */
import { expect, it } from 'vitest';
import { generator } from '../../../src/checks/generator.js';
import type { Phase } from '../../../src/rig/roles.js';
import { generatorYard, Run, Scene } from './build.js';
import { feedMany } from './spoil.js';

const index = generatorYard.battery.rafts.findIndex((r) => r.kind === 'generator');
const name = generatorYard.battery.rafts[index]!.name;

function scene(): Scene {
  const s = new Scene(generatorYard);
  s.rafts[index]!.generatorRunning = 0;
  return s;
}

it('refuses while it runs or cannot be read, and is content when it stands', () => {
  expect(new Run(generator, scene()).reports(3).failing).toEqual([]);
  for (const running of [1, Number.NaN]) {
    const run = new Run(generator, scene()).reports(2, (s) => {
      s.rafts[index]!.generatorRunning = running;
    });
    expect(run.failing).toEqual([`generator-running/${name}`]);
  }
});
it('asks no battery raft: there the field is empty', () => {
  expect(new Run(generator, new Scene()).reports(3).last.findings).toEqual([]);
});
it('wants two reports of it, and a tick is none', () => {
  const run = new Run(generator, scene()).reports(1);
  run.scene.rafts[index]!.generatorRunning = 1;
  expect(run.reports(1).failing).toEqual([]);
  expect(run.tick(25).failing).toEqual([]);
  expect(run.reports(1).failing).toEqual([`generator-running/${name}`]);
  const { reading, limit, sinceMs } = run.finding('generator-running', name);
  expect([reading, limit]).toEqual([1, 0]);
  expect(sinceMs).toBe(run.scene.nowMs - 75);
});
it('asks the generator only', () => {
  const run = new Run(generator, scene()).reports(1);
  expect(run.last.findings.map((f) => f.part)).toEqual([name]);
});
const running = () => {
  const run = new Run(generator, scene()).reports(1, (s) => {
    s.rafts[index]!.generatorRunning = 1;
  });
  return run;
};
it.each(['parked', 'securing', 'holding', 'bleeding', 'tripped-ramping-down'] as Phase[])(
  'asks while %s',
  (phase) => {
    const run = running();
    run.scene.enter(phase);
    expect(run.reports(1).failing).toEqual([`generator-running/${name}`]);
  },
);
it.each(['released', 'making-safe', 'safe'] as Phase[])(
  'does not while %s, and begins anew after it',
  (phase) => {
    const run = running();
    run.scene.enter(phase);
    expect(run.reports(1).last.findings).toEqual([]);
    run.scene.enter('holding');
    expect(run.reports(1).failing).toEqual([]);
  },
);

// slowReadingMs is 2 s: the forty-first report without a new sample is beyond it, and a second must say so.
it('takes one whose counter stands for running, while its port talks', () => {
  const run = new Run(generator, scene()).reports(1);
  run.scene.frozen.add(`raft${index + 1}`);
  expect(run.reports(41).failing).toEqual([]);
  expect(run.reports(1).failing).toEqual([`generator-running/${name}`]);
  expect(run.finding('generator-running', name).reading).toBeNaN();
  run.scene.frozen.clear();
  expect(run.reports(1).failing).toEqual([]);
});
it('leaves a port that is quiet as a whole to its own name', () => {
  const run = new Run(generator, scene()).reports(1);
  run.scene.portSilentMs.fill(2500);
  for (let k = 0; k < 60; k++) expect(run.tick(50).failing).toEqual([]);
  const before = running();
  before.scene.portSilentMs.fill(2500);
  before.tick(2500);
  before.scene.portSilentMs.fill(0);
  expect(before.reports(1).failing).toEqual([]);
  const never = running();
  const portSilentMs = never.scene.portSilentMs.map(() => Number.POSITIVE_INFINITY);
  const rafts = never.scene.rafts.map(() => null);
  expect(feedMany(never, 3, { rafts, portSilentMs }).findings).toMatchObject([
    { part: name, failing: false },
  ]);
});
it('takes one that was never seen for running', () => {
  const run = new Run(generator, scene()).reports(1);
  const rafts = run.scene.report().rafts.map((r, i) => (i === index ? null : r));
  expect(feedMany(run, 2, { rafts }).findings).toMatchObject([
    { part: name, failing: true, reading: Number.NaN },
  ]);
});
