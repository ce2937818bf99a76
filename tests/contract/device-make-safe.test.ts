/** The make-safe sequence of the simulated device, step by step and to the millisecond. */
import { describe, expect, it } from 'vitest';
import { LATCH_CAUSE } from '../../src/link/frames.js';
import { Bench } from './bench.js';
import { ALL_ROLES } from './stub-plant.js';

const MAKE_SAFE = { name: 'make-safe', args: {} } as const;

/** Current gone by itself after so many ms, volts after the bleeders. */
function run(bench: Bench, zeroAfterMs: number): string[] {
  bench.send({ verb: 'order', orders: [MAKE_SAFE] });
  const { plant } = bench;
  let startMs = Number.NaN;
  plant.onStep = (now) => {
    if (Number.isNaN(startMs) && bench.host.devices[0]?.madeSafe) startMs = now - 1;
    if (now - startMs >= zeroAfterMs) plant.currentA = 0;
    if (now - startMs >= 900) plant.outputV = 0;
    if (now - startMs >= 1200) plant.plugV = 0;
  };
  bench.pass(4000);
  return plant.since(startMs);
}

describe('make-safe', () => {
  it('opens P once the current is small, and keeps its pauses', () => {
    expect(run(new Bench().charge(200), 30)).toEqual([
      '0 disable-converter',
      '0 isolate:3',
      '30 open-p',
      '30 open-pre',
      '50 bleed-output:1',
      '230 open-n',
      '430 open-train',
      '510 bleed-plug:1',
      '1900 bleed-output:0',
      '2200 bleed-plug:0',
    ]);
  });

  it('opens P at the deadline when the current stays', () => {
    const steps = run(new Bench().charge(200), Number.POSITIVE_INFINITY);
    expect(steps).toContain('100 open-p');
    expect(steps).toContain('300 open-n');
    expect(steps.join()).not.toContain('trip-supply');
  });

  it('trips the supply above the breaking capacity, and opens P when it can break', () => {
    const steps = run(new Bench().charge(800), 180);
    expect(steps).toContain('100 trip-supply');
    expect(steps).toContain('180 open-p');
    expect(steps).toContain('380 open-n');
  });

  it('does not wait for ever above the breaking capacity', () => {
    const steps = run(new Bench().charge(800), Number.POSITIVE_INFINITY);
    expect(steps).toContain('100 trip-supply');
    expect(steps).toContain('500 open-p');
  });

  it('goes by the deadline where it cannot see the current', () => {
    const bench = new Bench({ roles: ['contactor', 'train', 'bleeder'] }).hello('11111111').feed();
    expect(run(bench, 0).slice(0, 6)).toEqual([
      '100 open-p',
      '100 open-pre',
      '120 bleed-output:1',
      '300 open-n',
      '500 open-train',
      '580 bleed-plug:1',
    ]);
  });

  it('goes by the deadline where P is another port', () => {
    const bench = new Bench({ roles: ['converter', 'meter', 'bleeder'] }).hello('11111111').feed();
    expect(run(bench, 0).slice(0, 3)).toEqual([
      '0 disable-converter',
      '120 bleed-output:1',
      '580 bleed-plug:1',
    ]);
  });

  it('treats a current it cannot read as one it cannot break, but opens', () => {
    const bench = new Bench().charge(200);
    bench.plant.currentA = Number.NaN;
    const steps = run(bench, Number.POSITIVE_INFINITY);
    expect(steps).toContain('100 trip-supply');
    expect(steps).toContain('100 open-p');
  });

  it('is obeyed wherever it stands in a frame, and once only', () => {
    const bench = new Bench().charge(0);
    expect(bench.order({ name: 'lock', args: {} }, MAKE_SAFE)).toBe('done');
    bench.pass(50);
    expect(bench.order(MAKE_SAFE)).toBe('done');
    bench.pass(3000);
    expect(bench.plant.diary.filter((d) => d.order.name === 'open-p')).toHaveLength(1);
    expect(bench.plant.diary.map((d) => d.order.name)).not.toContain('unlock');
  });

  it('latches: nothing energises, nothing is freed, and it clears only when dead', () => {
    const bench = new Bench().charge(0);
    bench.order(MAKE_SAFE);
    expect(bench.order({ name: 'clear-latch', args: {} })).toBe('not-permitted@0');
    expect(bench.order({ name: 'isolate', args: { point: 0, resistor: 0 } })).toBe('not-permitted@0');
    bench.pass(8000); // the bleeders gave up on volts that stay
    expect(bench.tags).toContain('bleed-abort:1');
    expect(bench.tags.some((t) => t.startsWith('safe-end:'))).toBe(true);
    expect(bench.order({ name: 'clear-latch', args: {} })).toBe('not-permitted@0');
    bench.plant.outputV = Number.NaN;
    bench.plant.plugV = 0;
    expect(bench.order({ name: 'clear-latch', args: {} })).toBe('not-permitted@0');
    bench.plant.outputV = 20;
    expect(bench.order({ name: 'unlock', args: {} })).toBe('latched@0');
    expect(bench.order({ name: 'clear-latch', args: {} })).toBe('done');
    expect(bench.order({ name: 'unlock', args: {} })).toBe('done');
  });
});

describe('silence', () => {
  it('makes safe and latches after the watchdog time, tagged by the device clock', () => {
    const bench = new Bench().charge(0).feed(100).starve();
    const lastFeed = bench.clock.nowMs() - 10;
    bench.pass(1000);
    const tag = bench.all('tag').find((t) => t.kind === 'watchdog');
    expect((tag?.clockMs ?? 0) - lastFeed).toBeGreaterThanOrEqual(300);
    expect((tag?.clockMs ?? 0) - lastFeed).toBeLessThanOrEqual(306);
    expect(bench.tags).toContain(`latched:${LATCH_CAUSE.watchdog}`);
    expect(bench.tags.filter((t) => t.startsWith('watchdog'))).toHaveLength(1);
    expect(bench.report?.roles.device).toMatchObject({ latched: 1, madeSafe: 1 });
  });

  it('is fed by feed frames alone, not by orders, repeats or another session', () => {
    const bench = new Bench().charge(0).starve();
    for (let i = 0; i < 20; i++) bench.order({ name: 'lock', args: {} });
    expect(bench.host.devices[0]?.latched).toBe(true);
  });

  it('latches nothing where nothing is energised', () => {
    const bench = new Bench().hello('11111111').feed().starve().pass(5000);
    expect(bench.host.devices[0]?.latched).toBe(false);
    expect(bench.all('report').length).toBeGreaterThan(45);
  });

  it('comes from a dead port too', () => {
    const bench = new Bench().charge(0);
    bench.plant.deadPorts.add('main');
    const heard = bench.heard.length;
    bench.pass(1000);
    expect(bench.heard.length).toBeLessThanOrEqual(heard + 1);
    expect(bench.host.devices[0]?.latched).toBe(true);
  });

  it('is bridged over a noisy line as long as one feed frame in three comes through', () => {
    const bench = new Bench({ roles: ALL_ROLES }).charge(0);
    const trouble = {
      dropShare: 0.05,
      corruptShare: 0.05,
      duplicateShare: 0.05,
      delayShare: 0,
      delayMaxMs: 0,
    };
    bench.plant.trouble = trouble;
    bench.pass(20_000);
    expect(bench.host.devices[0]?.latched).toBe(false);
    expect(bench.gate.rejected).toBeGreaterThan(5);
    expect(bench.gate.missing).toBeGreaterThan(5);
    expect(bench.report?.roles.device.rejectedFrames).toBeGreaterThan(0);
  });
});
