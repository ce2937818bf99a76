/** Orders by people: what is permitted is done, what is unsafe is refused with reading, limit and setting. */
import { describe, expect, it } from 'vitest';
import type { Scenario } from '../../simulators/scenario.js';
import { Audit } from '../../src/audit/audit.js';
import { NO_WISH } from '../../src/checks/check.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { SOFTWARE } from '../../src/host/version.js';
import type { Wave } from '../../src/link/frames.js';
import { runVirtual } from '../../src/rehearsal/virtual-run.js';
import { loadRig } from '../../src/rig/load.js';
import type { Refusal } from '../../src/supervisor/outcome.js';
import type { PersonOrder } from '../../src/supervisor/session-types.js';
import { Driver } from './bench-driver.js';

const { rig } = loadRig('depot-cable');

/** A start is asked for every 15 ms while another opening order is judged and carried out. */
async function startsDuring(order: 'free-plug' | 'acknowledge', start: object) {
  return withTemporaryFolder(async (folder) => {
    const driver = new Driver(folder, 'depot-cable');
    const { bench } = driver;
    bench.renew(start);
    bench.speed = 1;
    await bench.begin({ order, by: 'N. Aalto', wish: NO_WISH });
    let asked = 0;
    await driver.until(() => {
      if (driver.ends.length === 0 && bench.person({ order: 'start', by: 'another' })) asked++;
      return driver.ends.length > 0;
    });
    const { refusals, phases, ends } = driver;
    const carriedOut = bench.session?.carriedOut;
    await bench.close();
    return { asked, refusals, phases, exit: ends[0]?.exit, carriedOut };
  });
}

async function session(more: Partial<Scenario>, order: PersonOrder['order'] = 'start', name = 'depot-cable') {
  const scenario = { ...loadScenario('short-top-up'), wish: { targetEnergyKwh: 0.8 }, ...more };
  const waves: Wave[] = [];
  let text = '';
  /** Highest set-point ordered, and the highest fall from one to the next. */
  const setpoints: { atMs: number; currentA: number }[] = [];
  const run = await withTemporaryFolder((folder) =>
    runVirtual({
      loaded: loadRig(name),
      scenario,
      stateDir: folder,
      journalPath: 'journal',
      sink: {
        append: (more) => {
          text += more;
        },
        close: async () => {},
      },
      order,
      onProgress: (what) => {
        if (what.kind === 'wave') waves.push(what.wave);
      },
    }),
  );
  const lines = text.split('\n');
  for (const line of lines) {
    if (!line.includes('"k":"order"')) continue;
    const record = JSON.parse(line);
    for (const o of record.b.orders)
      if (o.name === 'setpoint') setpoints.push({ atMs: record.t / 1e6, currentA: o.args.currentA });
  }
  const journaled = lines.filter((l) => l.includes('"k":"refusal"')).map((l) => JSON.parse(l).b as Refusal);
  return { ...run, setpoints, journaled, waves, text };
}

describe('a lower current', () => {
  it('is taken, comes down no steeper than the rig permits, and binds from then on', async () => {
    const orders = [{ order: 'limit-current', phase: 'holding', afterS: 0.5, currentA: 120 } as const];
    const { outcome, setpoints } = await session({ orders });
    expect(outcome).toMatchObject({ outcome: 'released', refusals: [] });
    expect(outcome.bindingLimits.at(-1)?.limit).toBe('operator');
    expect(Math.max(...setpoints.map((s) => s.currentA))).toBeGreaterThan(290);
    const highest = setpoints.findLastIndex((s) => s.currentA > 290);
    const settled = setpoints.findIndex((s, k) => k > highest && s.currentA === 120);
    expect(settled).toBeGreaterThan(highest);
    expect(setpoints.slice(settled).every((s) => s.currentA <= 120)).toBe(true);
    for (const [k, s] of setpoints.entries()) {
      // Over five of them: a step may come a little early or late.
      const before = setpoints[k - 5];
      if (before === undefined || s.currentA === 0) continue;
      const fallAPerS = (before.currentA - s.currentA) / ((s.atMs - before.atMs) / 1000);
      expect(fallAPerS).toBeLessThanOrEqual(rig.ramp.downAPerS * 1.05);
    }
  });
  it('can be asked for from the start', async () => {
    const { outcome, setpoints } = await session({ wish: { targetEnergyKwh: 0.3, maxCurrentA: 80 } });
    expect(outcome.outcome).toBe('released');
    expect(Math.max(...setpoints.map((s) => s.currentA))).toBe(80);
  });
  it.each([
    [5000, 'above-limit', 'connection.ratedCurrentA'],
    [1, 'current-too-low', 'ramp.endCurrentA'],
    [Number.NaN, 'current-too-low', 'ramp.endCurrentA'],
  ])('of %s A is refused: %s', async (currentA, code, setting) => {
    const orders = [{ order: 'limit-current', phase: 'holding', afterS: 0.5, currentA } as const];
    const { outcome, journaled } = await session({ orders });
    expect(outcome.outcome).toBe('released');
    expect(outcome.refusals).toMatchObject([{ code, setting, asked: 'limit-current', by: 'dry-run' }]);
    expect(outcome.bindingLimits.map((b) => b.limit)).not.toContain('operator');
    expect(journaled.map((r) => r.code)).toEqual([code]);
  });
  it('above a limit refuses the start', async () => {
    const { exit, outcome } = await session({ wish: { targetEnergyKwh: 1, maxCurrentA: 4000 } });
    expect(exit).toBe(4);
    expect(outcome.refusals).toMatchObject([{ code: 'above-limit', reading: 4000, unit: 'A' }]);
  });
});

describe('an order that would be unsafe now', () => {
  it.each(['start', 'acknowledge', 'free-plug'] as const)('%s in holding is refused', async (order) => {
    const { outcome } = await session({ orders: [{ order, phase: 'holding', afterS: 0.3 }] });
    expect(outcome.outcome).toBe('released');
    expect(outcome.refusals).toMatchObject([{ code: 'not-permitted-now', part: 'holding', asked: order }]);
  });
  it.each(['start', 'stop', 'free-plug', 'limit-current'] as const)(
    '%s while making safe is refused, and nothing goes on',
    async (order) => {
      const orders = [
        { order: 'trip-now', phase: 'holding', afterS: 0.3 } as const,
        { order, phase: 'making-safe', afterS: 0.05, currentA: 50 } as const,
      ];
      const { outcome, exit, truth } = await session({ orders });
      expect(exit).toBe(3);
      expect(outcome.refusals).toMatchObject([
        { code: 'not-permitted-now', part: 'making-safe', asked: order },
      ]);
      expect(truth.poles).toEqual({ p: false, n: false, pre: false });
      expect(truth.locked).toBe(true);
    },
  );
});

describe('a second opening order', () => {
  // Its own wish would be lost, and its end would cut the first one off.
  it.each([
    ['free-plug', { soc: 0.5, plugLocked: true }],
    ['acknowledge', { latched: true, plugLocked: true }],
  ] as const)(
    'while %s is judged and carried out is refused, and the first goes on',
    async (order, start) => {
      const { asked, refusals, phases, exit, carriedOut } = await startsDuring(order, start);
      expect(asked).toBeGreaterThan(10);
      expect(refusals).toHaveLength(asked);
      for (const each of refusals)
        expect(each).toMatchObject({
          code: 'not-permitted-now',
          part: 'parked',
          asked: 'start',
          by: 'another',
        });
      expect(phases.filter((phase) => phase !== 'parked')).toEqual([]);
      expect({ exit, carriedOut }).toEqual({ exit: 0, carriedOut: true });
    },
  );
});

describe('an acknowledgement', () => {
  it.each(['depot-cable', 'depot-split'])('is carried out when all is dead, on %s', async (name) => {
    const { outcome } = await session({ start: { latched: true, plugLocked: true } }, 'acknowledge', name);
    expect(outcome.refusals).toEqual([]);
    expect(outcome.endState.provenDead).toBe(true);
  });
});

describe('freeing the plug', () => {
  const start = { soc: 0.5, plugLocked: true };
  it('is done when everything is proven dead', async () => {
    const { outcome, truth } = await session({ start }, 'free-plug');
    expect(outcome.refusals).toEqual([]);
    expect(truth.locked).toBe(false);
  });
  it('is refused with a pole closed, with the volts that were read', async () => {
    const inject = [{ fault: 'contactor-weld-at-rest', phase: 'start', part: 'p' } as const];
    const { outcome, truth } = await session({ start, inject }, 'free-plug');
    const refusal = outcome.refusals.find((r) => r.code === 'not-proven-dead');
    expect(refusal).toMatchObject({ limit: 60, unit: 'V', setting: 'bleeder.safeV', asked: 'free-plug' });
    expect(truth.locked).toBe(true);
  });
  it('is refused while a trip is latched', async () => {
    const { outcome, truth } = await session({ start: { ...start, latched: true } }, 'free-plug');
    expect(outcome.refusals.map((r) => r.code)).toContain('latched');
    expect(truth.locked).toBe(true);
  });
  it('says so when the lock is stuck', async () => {
    const inject = [{ fault: 'latch-stuck', phase: 'start' } as const];
    const { outcome } = await session({ start, inject }, 'free-plug');
    expect(outcome.refusals.map((r) => r.code)).toEqual(['plug-stuck']);
  });
});

describe('a burst of pilot samples', () => {
  const orders = [{ order: 'sample-pilot', phase: 'holding', afterS: 0.3 } as const];
  it('is asked of the device and comes whole, and nothing else changes', async () => {
    const { outcome, waves, text } = await session({ orders });
    expect(outcome).toMatchObject({ outcome: 'released', refusals: [] });
    expect(waves.length).toBeGreaterThan(1);
    expect(waves.map((w) => w.part)).toEqual(waves.map((_, i) => i + 1));
    expect(waves.at(-1)?.part).toBe(waves[0]?.parts);
    // 12 V r.m.s. less the diode through 1 kΩ, one way only.
    const mA = waves.flatMap((w) => w.samplesA).map((a) => a * 1000);
    const peakMa = ((12 * Math.SQRT2 - 0.7) / 1003) * 1000;
    expect(Math.abs(Math.max(...mA) - peakMa)).toBeLessThan(1);
    expect(Math.min(...mA)).toBeGreaterThan(-1);
    const without = await session({});
    expect(outcome.energyToBatteryKwh).toBeCloseTo(without.outcome.energyToBatteryKwh, 3);
    const audit = new Audit({ software: SOFTWARE });
    audit.feed(Buffer.from(text));
    const { diverged, invariantsBroken, intact } = audit.end();
    expect({ diverged, invariantsBroken, intact }).toEqual({
      diverged: false,
      invariantsBroken: [],
      intact: true,
    });
  });
  it('may be asked for as soon as the pilot is on', async () => {
    const { outcome, waves } = await session({
      wish: { targetEnergyKwh: 0.05 },
      orders: [{ order: 'sample-pilot', phase: 'securing' }],
    });
    expect(outcome).toMatchObject({ outcome: 'released', refusals: [] });
    expect(waves.length).toBeGreaterThan(1);
  });
  it('is refused where there is no pilot loop', async () => {
    const { outcome, waves } = await session(
      { orders: [{ order: 'sample-pilot', phase: 'ramping' }] },
      'start',
      'terminus-shoes',
    );
    expect(outcome.outcome).toBe('released');
    expect(outcome.refusals).toMatchObject([
      { code: 'not-permitted-now', part: 'this rig has no pilot loop', asked: 'sample-pilot' },
    ]);
    expect(waves).toEqual([]);
  });
  it('is refused while the burst of a trip is on its way, which it would replace', async () => {
    const late = { order: 'sample-pilot', phase: 'making-safe', afterS: 0.1 } as const;
    const { outcome, waves } = await session({
      orders: [{ order: 'trip-now', phase: 'holding', afterS: 0.3 }, late],
    });
    expect(outcome.refusals).toMatchObject([{ code: 'not-permitted-now', asked: 'sample-pilot' }]);
    expect(waves.length).toBeGreaterThan(1);
    expect(waves.every((w) => w.re === 0)).toBe(true);
  });
});
