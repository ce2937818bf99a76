/** Presence by sense contacts and plate cover. */
import { expect, it } from 'vitest';
import { presenceShoes } from '../../../src/checks/presence-shoes.js';
import { Run, Scene, shoes } from './build.js';

const proven = () => new Run(presenceShoes, new Scene(shoes).enter('proving-presence')).reports(3);

it('is proven by three samples', () => {
  expect(new Run(presenceShoes, new Scene(shoes).enter('proving-presence')).reports(2).proofs).toEqual([]);
  expect(proven().proofs).toEqual(['presence']);
});
it('names the shoe that lifted in the second sample', () => {
  const run = proven();
  run.scene.charging(900);
  run.reports(1, (s) => {
    s.latch.senseN = 0;
  });
  expect(run.failing).toEqual([]);
  expect(run.reports(1).failing).toEqual(['shoe-off/N']);
  expect(run.proofs).toEqual([]);
});
it('wants the plate covered, and readable', () => {
  expect(
    proven().reports(2, (s) => {
      s.latch.plateCovered = Number.NaN;
    }).failing,
  ).toEqual(['plate-exposed']);
});
it('has nothing to say on a cable rig', () => {
  const run = new Run(presenceShoes, new Scene().enter('proving-presence')).reports(5);
  expect(run.last.findings).toEqual([]);
  expect(run.proofs).toEqual([]);
});
