/** Presence by sense contacts and plate cover. */
import { describe, expect, it } from 'vitest';
import { presenceShoes } from '../../../src/checks/presence-shoes.js';
import { PHASES } from '../../../src/rig/roles.js';
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

describe('each sense contact and the cover', () => {
  it.each([
    ['senseP', 0, 'shoe-off/P'],
    ['senseP', Number.NaN, 'shoe-off/P'],
    ['senseN', 0, 'shoe-off/N'],
    ['senseN', Number.NaN, 'shoe-off/N'],
    ['plateCovered', 0, 'plate-exposed'],
  ] as const)('%s reading %d for two samples is %s', (field, reads, failing) => {
    const run = proven();
    run.scene.charging(900);
    const firstMs = run.scene.nowMs + shoes.link.periodMs;
    run.scene.latch[field] = reads;
    // Nothing is made live on a single bad sample, though it trips nothing.
    expect(run.reports(1).failing).toEqual([]);
    expect(run.proofs).toEqual([]);
    expect(run.reports(1).failing).toEqual([failing]);
    const found = run.last.findings.find((f) => f.failing)!;
    expect(found).toMatchObject({ reading: reads, limit: 1, setting: `latch.${field}`, sinceMs: firstMs });
  });
  it('is proven again only by three samples in a row', () => {
    const run = proven();
    run.reports(2, (s) => {
      s.latch.senseP = 0;
    });
    run.scene.latch.senseP = 1;
    expect(run.reports(2).proofs).toEqual([]);
    expect(run.reports(1).proofs).toEqual(['presence']);
  });
  it('stands again at once after a single bad sample, but not before it was proven', () => {
    const run = proven();
    run.scene.latch.senseN = 0;
    run.reports(1);
    run.scene.latch.senseN = 1;
    expect(run.reports(1).proofs).toEqual(['presence']);
    const early = new Run(presenceShoes, new Scene(shoes).enter('proving-presence')).reports(2);
    early.scene.latch.senseN = 0;
    early.reports(1);
    early.scene.latch.senseN = 1;
    expect(early.reports(2).proofs).toEqual([]);
    expect(early.reports(1).proofs).toEqual(['presence']);
  });
});

describe('samples', () => {
  it('count once: neither ticks nor a counter that stands still make a proof or a trip', () => {
    const run = new Run(presenceShoes, new Scene(shoes).enter('proving-presence')).reports(2);
    for (let k = 0; k < 10; k++) run.tick(10);
    expect(run.proofs).toEqual([]);
    const lifted = proven();
    lifted.scene.latch.senseP = 0;
    lifted.reports(1);
    lifted.scene.frozen.add('latch');
    expect(lifted.reports(5).failing).toEqual([]);
  });
  it('prove nothing once older than a fast reading may be', () => {
    const run = proven();
    expect(run.tick(shoes.link.fastReadingMs).proofs).toEqual(['presence']);
    expect(run.tick(1).proofs).toEqual([]);
  });
});

describe('when it speaks', () => {
  it('from proving until the train is parted, and while ramping down after a trip', () => {
    const spoken = PHASES.filter(
      (phase) => new Run(presenceShoes, new Scene(shoes).enter(phase)).reports(1).last.findings.length > 0,
    );
    const session = PHASES.slice(PHASES.indexOf('proving-presence'), PHASES.indexOf('parting-train') + 1);
    expect([...spoken].sort()).toEqual([...session, 'tripped-ramping-down'].sort());
  });
  it('keeps nothing of an earlier session, and says nothing without a latch', () => {
    const run = proven();
    run.scene.enter('bleeding');
    run.reports(1);
    run.scene.enter('proving-presence');
    expect(run.reports(2).proofs).toEqual([]);
    const seen = { ...new Scene(shoes).enter('holding').report(), latch: null };
    const silent = presenceShoes.run(presenceShoes.initial(shoes), seen, shoes);
    expect([silent.findings, silent.proofs ?? []]).toEqual([[], []]);
  });
});
