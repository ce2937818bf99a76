/** The make-safe sequence and the watchdog of any device, step by step, by what it tags with its own clock. */
import { describe, expect, it } from 'vitest';
import { encodeToDevice } from '../../src/link/codec.js';
import { LATCH_CAUSE } from '../../src/link/frames.js';
import type { Bench, BenchOptions } from './bench.js';
import { bare, benches } from './device.contract.js';

const MAKE_SAFE = { name: 'make-safe', args: {} } as const;
const NEVER = Number.POSITIVE_INFINITY;

/** Times of the tags since the sequence began, by kind, or kind and value where it says on and off. */
type Steps = Record<string, number>;

/** Current gone so many ms after the start, volts behind the bleeders. */
function run(bench: Bench, zeroAfterMs: number): Steps {
  bench.send({ verb: 'order', orders: [MAKE_SAFE] });
  let startMs = Number.NaN;
  for (let i = 0; i < 400 && Number.isNaN(startMs); i++)
    startMs = bench.pass(1).tag('make-safe')?.clockMs ?? Number.NaN;
  const changes = [
    { atMs: zeroAfterMs, seen: { currentA: 0 } },
    { atMs: 500, seen: { outputV: 0 } },
    { atMs: 1200, seen: { plugV: 0 } },
  ];
  for (const { atMs, seen } of changes.filter((c) => c.atMs < NEVER).sort((a, b) => a.atMs - b.atMs)) {
    bench.pass(Math.max(0, startMs + atMs - bench.nowMs)).see(seen);
  }
  bench.pass(3000);
  const steps: Steps = {};
  for (const { kind, value, clockMs } of bench.all('tag')) {
    const name = /^bleed-(output|plug)$/.test(kind) ? `${kind}:${value}` : kind;
    if (!(name in steps)) steps[name] = clockMs - startMs;
  }
  return steps;
}

/** Steps whose pauses are held to the millisecond, from when P opened. */
const fromP = (p: number) => ({
  'bleed-output:1': p + 20,
  'opened-n': p + 200,
  'opened-train': p + 400,
  'bleed-plug:1': p + 480,
});
const within = (ms: number | undefined, least: number, most: number) => {
  expect(ms).toBeGreaterThanOrEqual(least);
  expect(ms).toBeLessThanOrEqual(most);
};

export function makeSafeContract(name: string, make: (options?: BenchOptions) => Bench): void {
  describe(`device contract: ${name}: make-safe`, () => {
    const fresh = benches(make);

    it('opens P once the current is small, keeps its pauses, and ends when both sides are dead', () => {
      const steps = run(fresh().charge(200), 30);
      const p = steps['opened-p'] as number;
      within(p, 30, 31);
      expect(steps).toMatchObject({ latched: 0, 'make-safe': 0, 'converter-off': 0, ...fromP(p) });
      within(steps['bleed-output:0'], 1500, 1520);
      within(steps['bleed-plug:0'], 2200, 2220);
      const lastMs = steps['bleed-plug:0'] as number;
      within(steps['safe-end'], lastMs, lastMs + 100);
      expect(steps).not.toHaveProperty('supply-tripped');
    });

    it('opens P at the deadline when the current stays', () => {
      const steps = run(fresh().charge(200), NEVER);
      expect(steps).toMatchObject({ 'opened-p': 100, ...fromP(100) });
      expect(steps).not.toHaveProperty('supply-tripped');
    });

    it('trips the supply above the breaking capacity, and opens P when it can break', () => {
      const bench = fresh();
      const steps = run(bench.charge(bench.figures.breakingCapacityA + 300), 180);
      expect(steps['supply-tripped']).toBe(100);
      const p = steps['opened-p'] as number;
      within(p, 180, 181);
      expect(steps).toMatchObject(fromP(p));
    });

    it('does not wait for ever above the breaking capacity', () => {
      const bench = fresh();
      const steps = run(bench.charge(bench.figures.breakingCapacityA + 300), NEVER);
      expect(steps).toMatchObject({ 'supply-tripped': 100, 'opened-p': 500, ...fromP(500) });
    });

    it('goes by the deadline where it cannot see the current', () => {
      const bench = fresh({ roles: ['contactor', 'train', 'bleeder'] })
        .hello('11111111')
        .feed();
      const steps = run(bench, 0);
      expect(steps).toMatchObject({ 'opened-p': 100, ...fromP(100) });
      expect(steps).not.toHaveProperty('converter-off');
    });

    it('goes by the deadline where P is another port', () => {
      const bench = fresh({ roles: ['converter', 'meter', 'bleeder'] })
        .hello('11111111')
        .feed();
      const steps = run(bench, 0);
      expect(steps).toMatchObject({ 'converter-off': 0, 'bleed-output:1': 120, 'bleed-plug:1': 580 });
      expect(Object.keys(steps).filter((kind) => kind.startsWith('opened'))).toEqual([]);
    });

    it('ends with the last step of the roles it serves', () => {
      const end = (roles: string[]) => run(fresh({ roles }).hello('11111111').feed(), 0)['safe-end'];
      expect(end(['converter'])).toBe(100);
      expect(end(['contactor'])).toBe(300);
      expect(end(['train'])).toBe(500);
    });

    it('treats a current it cannot read as one it cannot break, but opens', () => {
      const bench = fresh().charge(200).see({ currentA: Number.NaN });
      const steps = run(bench, NEVER);
      expect(steps).toMatchObject({ 'supply-tripped': 100, 'opened-p': 100 });
      expect(bench.all('tag').find((t) => t.kind === 'opened-p')?.value).toBeNaN();
    });

    it('is obeyed wherever it stands in a frame, behind a failed order too, and once only', () => {
      const bench = fresh().charge(0);
      const misfit = { name: 'isolate', args: { point: 4, resistor: 0 } } as const;
      expect(bench.order(misfit, MAKE_SAFE)).toBe('bad-argument@0');
      expect(bench.tags).toContain(`make-safe:${LATCH_CAUSE.ordered}`);
      bench.pass(50);
      expect(bench.order(MAKE_SAFE)).toBe('done');
      bench.pass(3000);
      expect(bench.all('tag').filter((t) => t.kind === 'opened-p')).toHaveLength(1);
    });

    it('latches: nothing energises, nothing is freed, and it clears only when dead', () => {
      const bench = fresh().charge(0);
      bench.order(MAKE_SAFE);
      expect(bench.order(bare('clear-latch'))).toBe('not-permitted@0');
      expect(bench.order({ name: 'isolate', args: { point: 0, resistor: 0 } })).toBe('not-permitted@0');
      expect(bench.order({ name: 'bleed-output', args: { on: 0 } })).toBe('not-permitted@0');
      bench.pass(8000); // the bleeders gave up on volts that stay
      expect(bench.tags).toContain('bleed-abort:1');
      expect(bench.tags.some((t) => t.startsWith('safe-end:'))).toBe(true);
      expect(bench.order(bare('clear-latch'))).toBe('not-permitted@0');
      bench.see({ outputV: Number.NaN, plugV: 0 });
      expect(bench.order(bare('clear-latch'))).toBe('not-permitted@0');
      bench.see({ outputV: 20 });
      expect(bench.order(bare('unlock'))).toBe('latched@0');
      expect(bench.order(bare('close-p'))).toBe('latched@0');
      expect(bench.order(bare('clear-latch'))).toBe('done');
      expect(bench.order(bare('unlock'))).toBe('done');
    });

    it('sends a burst of the pilot by itself', () => {
      const bench = fresh().charge(0);
      bench.order(MAKE_SAFE);
      bench.pass(1000);
      expect(bench.all('wave').flatMap((w) => (w.re === 0 ? [...w.samplesA] : []))).toHaveLength(
        bench.figures.waveSamples,
      );
    });
  });

  describe(`device contract: ${name}: silence`, () => {
    const fresh = benches(make);

    it('makes safe and latches after the watchdog time, tagged by the device clock', () => {
      const bench = fresh().charge(0).feed(100).starve();
      const lastFeedMs = bench.nowMs - 10;
      bench.pass(1000);
      within((bench.tag('watchdog')?.clockMs ?? 0) - lastFeedMs, 300, 306);
      within(bench.tag('watchdog')?.value, 301, 306);
      expect(bench.tags).toContain(`latched:${LATCH_CAUSE.watchdog}`);
      expect(bench.tags.filter((t) => t.startsWith('watchdog'))).toHaveLength(1);
      expect(bench.report?.roles.device).toMatchObject({ latched: 1, madeSafe: 1 });
      expect(bench.report?.roles.contactor).toMatchObject({ closedP: 0, closedN: 0 });
    });

    it('is fed by feed frames alone, not by orders', () => {
      const bench = fresh().charge(0).starve();
      for (let i = 0; i < 20; i++) bench.order(bare('lock'));
      expect(bench.report?.roles.device.latched).toBe(1);
    });

    it('is not fed by repeated feeds, nor by those of another session', () => {
      const bench = fresh().charge(0).starve();
      const again = (nonce: string, seq: number) => {
        bench.nonce = nonce;
        for (let i = 0; i < 5; i++) bench.write(encodeToDevice(nonce, seq, { verb: 'feed', phase: 0 }));
      };
      for (let i = 0; i < 20; i++) {
        again('0a0a0a0a', 2);
        again('0b0b0b0b', 1000 + i);
        bench.pass(20);
      }
      expect(bench.tags).toContain(`latched:${LATCH_CAUSE.watchdog}`);
    });

    it('latches nothing where nothing is energised', () => {
      const bench = fresh().hello('11111111').feed().starve().pass(5000);
      expect(bench.report?.roles.device.latched).toBe(0);
      expect(bench.all('report').length).toBeGreaterThan(45);
    });

    it('is bridged over a noisy line as long as one feed frame in three comes through', () => {
      const bench = fresh().charge(0);
      bench.noise = { lost: 0.05, damaged: 0.05, doubled: 0.05 };
      bench.pass(20_000);
      expect(bench.gate.rejected).toBeGreaterThan(5);
      expect(bench.gate.missing).toBeGreaterThan(5);
      bench.noise = { lost: 0, damaged: 0, doubled: 0 };
      expect(bench.report?.roles.device.latched).toBe(0);
      expect(bench.report?.roles.device.rejectedFrames).toBeGreaterThan(5);
    });
  });
}
