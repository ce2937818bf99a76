/** A generator raft must stand still. */
import { expect, it } from 'vitest';
import { generator } from '../../../src/checks/generator.js';
import { generatorYard, Run, Scene } from './build.js';

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
