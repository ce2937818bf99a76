/** A bench that people drive by hand: sessions after one another on one world, faults, another train, the end. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Audit } from '../../src/audit/audit.js';
import { SOFTWARE } from '../../src/host/version.js';
import type { LiveBenchOptions } from '../../src/rehearsal/live-bench.js';
import { Driver } from './bench-driver.js';

let state: string;
let drivers: Driver[];
beforeEach(() => {
  state = mkdtempSync(path.join(tmpdir(), 'loopwarden-bench-'));
  drivers = [];
});
afterEach(async () => {
  for (const driver of drivers) await driver.bench.close();
  rmSync(state, { recursive: true, force: true });
});
const stand = (rig = 'depot-cable', more: Partial<LiveBenchOptions> = {}): Driver => {
  const driver = new Driver(state, rig, more);
  drivers.push(driver);
  return driver;
};
const LITTLE = { targetEnergyKwh: 0.1 };
/** Enough to come to the full current. */
const MORE = { targetEnergyKwh: 0.6 };

function auditOf(file: string) {
  const audit = new Audit({ software: SOFTWARE });
  audit.feed(readFileSync(file));
  const { intact, diverged, invariantsBroken } = audit.end();
  return { intact, diverged, invariantsBroken };
}
const SOUND = { intact: true, diverged: false, invariantsBroken: [] };

describe('sessions after one another', () => {
  it('release, and again, on one world, each with a journal of its own that stands its audit', async () => {
    const d = stand();
    await d.begin('start', LITTLE);
    expect(d.bench.running?.by).toBe('N. Aalto');
    const first = await d.closed();
    expect(first).toMatchObject({ exit: 0, outcome: { outcome: 'released', endReason: 'target' } });
    const { world } = d.bench;
    await d.wait(20);
    await d.begin('start', LITTLE);
    const second = await d.closed();
    expect(second.outcome.outcome).toBe('released');
    expect(d.bench.world).toBe(world);
    // The charge of the first session is still in the battery.
    expect(second.outcome.socStart).toBeGreaterThan(first.outcome.socStart as number);
    expect(second.outcome.journal).not.toBe(first.outcome.journal);
    expect([auditOf(first.outcome.journal), auditOf(second.outcome.journal)]).toEqual([SOUND, SOUND]);
    expect(d.bench.latch).toMatchObject({ trip: null, open: null });
    expect(d.bench.session?.phase).toBe('released');
  });
  it.each(['terminus-shoes', 'depot-split', 'yard-precharge', 'yard-generator'])(
    'release twice on %s, whatever the first leaves on the output',
    async (rig) => {
      const d = stand(rig);
      for (let k = 0; k < 2; k++) {
        await d.begin('start', LITTLE);
        expect((await d.closed()).outcome.outcome).toBe('released');
      }
    },
  );
  it('trip by a crushed cable, are refused, acknowledged, and start again', async () => {
    const d = stand();
    await d.begin('start', MORE);
    await d.phase('holding');
    d.bench.inject({ fault: 'loop-crush', afterS: 1 });
    const tripped = await d.closed();
    expect(tripped).toMatchObject({ exit: 3, outcome: { outcome: 'tripped', endReason: 'loop-crushed' } });
    expect(d.bench.latch.trip).toMatchObject({ code: 'loop-crushed', provenDead: true });
    expect(d.bench.faults).toMatchObject([{ fault: 'loop-crush', awaits: null }]);
    expect(d.bench.faults[0]?.sinceMs).toBeGreaterThan(1000);

    await d.begin('start', LITTLE);
    expect((await d.closed()).exit).toBe(4);
    expect(d.refusals.map((r) => r.code)).toContain('latched');

    d.bench.clear();
    expect(d.bench.faults).toEqual([]);
    await d.begin('acknowledge');
    expect((await d.closed()).exit).toBe(0);
    expect(d.bench.latch).toMatchObject({
      trip: null,
      acknowledged: { by: 'N. Aalto', code: 'loop-crushed' },
    });

    await d.begin('free-plug');
    expect((await d.closed()).exit).toBe(0);
    expect(d.bench.world.parts.stand.locked).toBe(false);

    await d.begin('start', LITTLE);
    const again = await d.closed();
    expect(again.outcome.outcome).toBe('released');
    expect(d.ends.map(({ outcome }) => auditOf(outcome.journal))).toEqual(d.ends.map(() => SOUND));
  });
  it('start only one at a time, and a moment after the end of the last', async () => {
    const d = stand();
    await d.begin('start', LITTLE);
    await expect(d.begin('acknowledge')).rejects.toThrow(/start, asked by N\. Aalto, is under way/);
    expect(() => d.bench.renew()).toThrow(/is under way/);
    await d.until(() => d.ends.length === 1);
    await expect(d.begin('start', LITTLE)).rejects.toThrow(/just ended/);
    await d.closed();
    expect(d.order('stop')).toBe(false);
    await d.begin('start', LITTLE);
    expect((await d.closed()).outcome.outcome).toBe('released');
  });
  it('tell their session time and phase at any time', async () => {
    const d = stand();
    expect([d.bench.session, d.bench.sessionMs]).toEqual([null, 0]);
    await d.wait(5);
    await d.begin('start', MORE);
    expect(d.bench.sessionMs).toBe(0);
    await d.phase('holding');
    expect(d.bench.session?.phase).toBe('holding');
    expect(d.bench.sessionMs).toBeGreaterThan(1000);
    expect(d.bench.sessionMs).toBeLessThan(d.bench.clock.nowMs() - 4999);
    const { proofs, said } = d.bench.session!.display;
    expect(proofs.has('closed-p')).toBe(true);
    // What holds is said too, not only what fails.
    expect(said?.findings.some((f) => !f.failing)).toBe(true);
    expect(said?.limits.map((l) => l.limit)).toContain('cable');
  });
  it('run on shoes too, and trip at once when a shoe lifts', async () => {
    const d = stand('terminus-shoes');
    d.bench.inject({ fault: 'shoe-lifts', phase: 'ramping', afterS: 2 });
    await d.begin('start', { targetEnergyKwh: 20 });
    expect((await d.closed()).outcome.endReason).toBe('shoe-off');
    d.bench.clear();
    await d.begin('acknowledge');
    expect((await d.closed()).exit).toBe(0);
    await d.begin('start', { targetEnergyKwh: 1 });
    expect((await d.closed()).outcome.outcome).toBe('released');
  });
});

describe('a latch', () => {
  it('stands after the program has ended, on disk and in the devices', async () => {
    const before = stand();
    await before.begin('start', MORE);
    await before.phase('holding');
    before.order('trip-now');
    await before.closed();
    await before.bench.close();
    const after = stand();
    await after.begin('start', LITTLE);
    await after.closed();
    expect(after.refusals.map((r) => r.code)).toEqual(expect.arrayContaining(['latched', 'device-latched']));
    await after.begin('acknowledge');
    expect((await after.closed()).exit).toBe(0);
  });
  it('is not cleared by another train', async () => {
    const d = stand();
    await d.begin('start', MORE);
    await d.phase('holding');
    d.order('trip-now');
    await d.closed();
    d.bench.renew();
    expect(d.bench.latch.trip?.code).toBe('trip-now');
    expect(d.bench.world.parts.stand.locked).toBe(false);
    await d.begin('start', LITTLE);
    await d.closed();
    expect(d.refusals.map((r) => r.code)).toEqual(expect.arrayContaining(['latched', 'device-latched']));
    await d.begin('acknowledge');
    await d.closed();
    await d.begin('start', LITTLE);
    expect((await d.closed()).outcome.outcome).toBe('released');
  });
  it('may be part of how a train is found', async () => {
    const d = stand();
    d.bench.renew({ latched: true, plugLocked: true });
    await d.begin('free-plug');
    expect((await d.closed()).exit).toBe(4);
    await d.begin('acknowledge');
    await d.closed();
    await d.begin('free-plug');
    expect((await d.closed()).exit).toBe(0);
  });
});

describe('another train', () => {
  it('comes with its own rafts and without the faults of the last', async () => {
    const d = stand();
    d.bench.inject({ fault: 'bond-lost' });
    d.bench.inject({ fault: 'loop-open', phase: 'holding' });
    d.bench.renew({ soc: 0.71, cellC: 12 }, 99);
    expect(d.bench.faults).toEqual([]);
    await d.begin('start', LITTLE);
    const { outcome } = await d.closed();
    expect(outcome.outcome).toBe('released');
    expect(Math.abs((outcome.socStart as number) - 0.71)).toBeLessThan(0.01);
  });
  it.each([
    [{ soc: 1.4 }, undefined, /soc/],
    [{ charge: 0.5 }, undefined, /charge/],
    [{}, -1, /seed/],
    [{}, 0.5, /seed/],
  ])('is refused as %j with seed %s', (start, seed, why) => {
    const d = stand();
    const { world } = d.bench;
    expect(() => d.bench.renew(start, seed)).toThrow(why);
    expect(d.bench.world).toBe(world);
  });
});

describe('a fault made by hand', () => {
  it('waits for the next time a session enters its phase, also in a later session', async () => {
    const d = stand();
    await d.begin('start', MORE);
    await d.phase('holding');
    d.bench.inject({ fault: 'loop-open', phase: 'ramping', afterS: 0.5 });
    expect(d.bench.faults).toMatchObject([{ fault: 'loop-open', awaits: 'ramping', sinceMs: null }]);
    expect((await d.closed()).outcome.outcome).toBe('released');
    await d.begin('start', LITTLE);
    expect((await d.closed()).outcome.trip).toMatchObject({ code: 'loop-open', phase: 'ramping' });
  });
  it('ends by itself when it was asked to', async () => {
    const d = stand();
    d.bench.inject({ fault: 'supply-not-ready', durationS: 10 });
    await d.begin('start', LITTLE);
    expect((await d.closed()).exit).toBe(4);
    await d.wait(10);
    expect(d.bench.faults).toEqual([]);
    await d.begin('start', LITTLE);
    expect((await d.closed()).exit).toBe(0);
  });
  it('that cannot be undone is mended: a plug that was drawn goes back in', async () => {
    const d = stand();
    await d.begin('start', MORE);
    await d.phase('holding');
    d.bench.inject({ fault: 'plug-pulled' });
    expect((await d.closed()).outcome.endReason).toBe('loop-open');
    d.bench.clear();
    await d.begin('acknowledge');
    expect((await d.closed()).exit).toBe(0);
    await d.begin('start', LITTLE);
    expect((await d.closed()).outcome.outcome).toBe('released');
  });
  it.each(['supply-breaker-opens', 'latch-slips', 'contactor-drops', 'loop-leak', 'train-live'])(
    '%s, and cleared, leaves a bench that charges',
    async (fault) => {
      const d = stand();
      await d.begin('start', MORE);
      await d.phase('holding');
      d.bench.inject({ fault });
      await d.wait(6);
      await d.closed();
      d.bench.clear();
      if (d.bench.latch.trip !== null) {
        await d.begin('acknowledge', {}, true);
        await d.closed();
      }
      await d.begin('start', LITTLE);
      expect((await d.closed()).outcome.outcome).toBe('released');
    },
  );
  it('is not more than can be followed', () => {
    const d = stand();
    for (let k = 0; k < 32; k++) d.bench.inject({ fault: 'loop-open', phase: 'holding' });
    expect(() => d.bench.inject({ fault: 'loop-open' })).toThrow(/32 faults/);
    d.bench.clear();
    d.bench.inject({ fault: 'loop-open' });
  });
});

describe('who looks on', () => {
  it('harms nothing by failing', async () => {
    const d = stand();
    d.watch({
      progress: () => {
        throw new Error('a page that fails');
      },
    });
    await d.begin('start', LITTLE);
    expect((await d.closed()).outcome.outcome).toBe('released');
    expect(d.failures).toEqual([]);
  });
});

describe('closing', () => {
  it('makes a session under way safe first, and leaves its latch', async () => {
    const d = stand();
    await d.begin('start', MORE);
    await d.phase('holding');
    await d.bench.close();
    expect(d.ends).toMatchObject([{ exit: 3, outcome: { endReason: 'trip-now' } }]);
    const { poleP, poleN } = d.bench.world.parts;
    expect([poleP.closed, poleN.closed]).toEqual([false, false]);
    expect(d.bench.latch).toMatchObject({ open: null, trip: { code: 'trip-now', provenDead: true } });
    expect(auditOf(d.ends[0]!.outcome.journal)).toEqual(SOUND);
    await expect(d.begin('start', LITTLE)).rejects.toThrow(/closed/);
  });
  it('leaves nothing behind where nothing was ordered yet', async () => {
    const d = stand();
    await d.begin('start', LITTLE);
    await d.bench.close();
    expect(d.ends).toMatchObject([{ exit: 4 }]);
    expect(d.bench.latch).toMatchObject({ open: null, trip: null });
  });
  it('does not wait for ever: what cannot be proven safe in time is left as not proven', async () => {
    const d = stand();
    await d.begin('start', MORE);
    await d.phase('holding');
    d.bench.inject({ fault: 'link-silent' });
    await d.wait(0.5);
    await d.bench.close();
    expect(d.ends.map((e) => e.exit)).not.toContain(3);
    expect(d.bench.latch.trip?.provenDead).not.toBe(true);
  });
});

describe('a failure of the program itself', () => {
  it('makes the devices safe, is told, and the next session finds it latched', async () => {
    const d = stand();
    await d.begin('start', MORE);
    await d.phase('holding');
    d.bench.clock.after(10, () => {
      throw new Error('a part of the bench broke');
    });
    const { exit } = await d.closed();
    expect(d.failures).toEqual(['a part of the bench broke']);
    expect(exit).toBe(1);
    expect(d.bench.world.parts.poleP.closed).toBe(false);
    await d.begin('start', LITTLE);
    expect((await d.closed()).exit).toBe(4);
  });
});
